"""Elements that went their own way, believed where the two pictures agree once they are put in place."""

import cv2
import numpy as np

from intake.config.differ import DifferRules
from intake.imaging.elements import Moved, moved_elements
from intake.imaging.geometry import apply
from intake.imaging.regions import Found, cells_in, corners_of
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import Ground, Mask, box_of, hull_of, scores_with, whole_cells


def went_their_way(ground: Ground, flagged: Mask, rules: DifferRules) -> tuple[list[Found], Mask]:
    """Elements that are found again elsewhere or at another size, and what of the flagged cells they do not tell."""
    around = cv2.dilate(flagged.astype(np.uint8), np.ones((9, 9), np.uint8))
    pa, pb = ground.places
    rows, columns = around.shape
    x, y = (np.clip(pa[:, k] / STEP_PX, 0, n - 1).astype(np.intp) for k, n in ((0, columns), (1, rows)))
    held = around[y, x] > 0
    groups = moved_elements(pa[held], pb[held], rules.miss_px, rules.least_points)
    found: list[Found] = []
    left = flagged.copy()
    for group in groups:
        region = _as_element(ground, group, left, rules)
        if region is None:
            continue
        found.append(region)
        left &= ~_swept(region, left.shape, rules)
    return found, left


def _as_element(ground: Ground, group: Moved, flagged: Mask, rules: DifferRules) -> Found | None:
    h, w = ground.over.seen.shape
    hull = hull_of(group.points, flagged.shape, grow_px=28)
    asked = hull & flagged
    if asked.sum() < rules.least_cells:
        return None
    where = whole_cells(box_of(hull), rules.window_px, (h, w))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    placed = cv2.warpPerspective(ground.over.b, group.transform, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    score = scores_with(ground, placed, rules, where)
    told = asked & (score < rules.flagged)
    if told.sum() < max(rules.least_cells, rules.least_explained * asked.sum()):
        return None
    box = box_of(told | (hull_of(group.points, flagged.shape, grow_px=4) & hull))
    corners = apply(group.transform, corners_of(box))
    on_b = (*corners.min(axis=0), *corners.max(axis=0))
    middle = np.array([[(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]])
    away = float(np.hypot(*(apply(group.transform, middle) - middle)[0])) / max(h, w)
    factor = group.factor
    if abs(factor - 1) >= rules.least_factor:
        also = f", and moved by {away:.1%} of the long side" if away > 4 * rules.least_move else ""
        words = rules.words["scaled"].format(
            more="larger" if factor > 1 else "smaller", percent=100 * abs(factor - 1), moved=also
        )
        return Found("scaled", told, box, on_b, words, factor)
    if away < rules.least_move:
        return None
    return Found("moved", told, box, on_b, rules.words["moved"].format(percent=100 * away))


def _swept(region: Found, shape: tuple[int, int], rules: DifferRules) -> Mask:
    """All that an element hid or laid bare by going its way."""
    return cells_in(region.on_a, shape, rules.window_px // 2) | cells_in(region.on_b, shape, rules.window_px // 2)
