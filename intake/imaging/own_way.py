"""Elements that went their own way, believed where the two pictures agree once they are put in place."""

from dataclasses import replace

import cv2
import numpy as np

from intake.config.differ import DifferRules
from intake.imaging.elements import Moved, moved_elements
from intake.imaging.geometry import Matrix, apply, fit_similarity
from intake.imaging.placed import Planes, around, drawn_up, gains, planes_of
from intake.imaging.regions import Found, corners_of
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import Floats, FrameBox, Ground, Mask, box_of, hull_of, scores_with, whole_cells
from intake.imaging.voted import seen_again

_NEAR_PX, _OUT_PX = 28, 96
_ROUGH = (4.0, 2.0)
_OPENED = np.ones((3, 3), np.uint8)


def went_their_way(ground: Ground, flagged: Mask, rules: DifferRules) -> tuple[list[Found], Mask]:
    """Elements that are found again elsewhere or at another size, and what of the flagged cells they do not tell.

    Keypoints and votes propose; what gains most is believed first, and what it tells no other can.
    """
    around_ = cv2.dilate(flagged.astype(np.uint8), np.ones((9, 9), np.uint8))
    pa, pb = ground.places
    rows, columns = flagged.shape
    x, y = (np.clip(pa[:, k] / STEP_PX, 0, n - 1).astype(np.intp) for k, n in ((0, columns), (1, rows)))
    held = around_[y, x] > 0
    groups = moved_elements(pa[held], pb[held], rules.miss_px, rules.least_points)
    groups += seen_again(*ground.twins, flagged, rules.search)
    planes = planes_of(*ground.twins, rules.window_px)
    proposed = []
    for group in groups:
        hull = hull_of(group.points, flagged.shape, _NEAR_PX) & flagged
        transform, gain = drawn_up(planes, group.transform, hull, _ROUGH)
        proposed.append((gain, replace(group, transform=transform)))
    found: list[Found] = []
    left = flagged.copy()
    for _, group in sorted(proposed, key=lambda p: -p[0]):
        region = _as_element(ground, planes, group, left, rules)
        if region is not None:
            found.append(region[0])
            left &= ~_swept(region[0].cells, region[1], rules)
    return found, left


def _as_element(
    ground: Ground, planes: Planes, group: Moved, flagged: Mask, rules: DifferRules
) -> tuple[Found, Matrix] | None:
    """The region and the way that it went."""
    h, w = ground.over.seen.shape
    core = hull_of(group.points, flagged.shape, _NEAR_PX) & flagged
    if core.sum() < rules.least_cells:
        return None
    transform, _ = drawn_up(planes, group.transform, core)
    told = _gained(planes, transform, core, flagged, rules) > 0
    if told.sum() < rules.least_cells:
        return None
    transform, _ = drawn_up(planes, transform, told)
    gain = _gained(planes, transform, core, flagged, rules)
    told = gain > 0
    if told.sum() < rules.least_cells:
        return None
    follows = told & _follows(ground, transform, told, rules)
    if gain[follows & core].sum() < rules.search.believed * core.sum():
        return None
    held = float(follows.sum() / told.sum())
    box = box_of(told)
    corners = apply(transform, corners_of(box))
    on_b = (*corners.min(axis=0), *corners.max(axis=0))
    middle = np.array([[(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]])
    away = float(np.hypot(*(apply(transform, middle) - middle)[0])) / max(h, w)
    factor = _grown(ground, transform, box)
    if not rules.search.sizes[0] <= factor <= rules.search.sizes[1]:
        return None
    if abs(factor - 1) >= rules.least_factor:
        also = f", and moved by {away:.1%} of the long side" if away > 4 * rules.least_move else ""
        words = rules.words["scaled"].format(
            more="larger" if factor > 1 else "smaller", percent=100 * abs(factor - 1), moved=also
        )
        return Found("scaled", told, box, on_b, words, factor, held), transform
    if away < rules.least_move:
        return None
    words = rules.words["moved"].format(percent=100 * away)
    return Found("moved", told, box, on_b, words, explained=held), transform


def _gained(planes: Planes, transform: Matrix, core: Mask, flagged: Mask, rules: DifferRules) -> Floats:
    """What the flagged cells gain by going the element's way, as far as they hang on ``core``; 0 elsewhere."""
    side = 2 * (_OUT_PX // STEP_PX) + 1
    about = (cv2.dilate(core.astype(np.uint8), np.ones((side, side), np.uint8)) > 0) & flagged
    left, top, right, bottom = cells = around(about)
    gain = np.zeros(flagged.shape, np.float32)
    gain[top:bottom, left:right] = gains(planes, transform, cells)
    more = cv2.morphologyEx((about & (gain >= rules.search.gain)).astype(np.uint8), cv2.MORPH_OPEN, _OPENED)
    _, labels = cv2.connectedComponents(more)
    return np.asarray(np.where(np.isin(labels, np.unique(labels[core])) & (labels > 0), gain, 0), np.float32)


def _follows(ground: Ground, transform: Matrix, cells: Mask, rules: DifferRules) -> Mask:
    """Which cells about these are told, with b put where the element went."""
    h, w = ground.over.seen.shape
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    placed = cv2.warpPerspective(ground.over.b, transform, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    score = scores_with(ground, placed, rules, whole_cells(box_of(cells), rules.window_px, (h, w)))
    return np.asarray(score < rules.flagged, np.bool_)


def _grown(ground: Ground, transform: Matrix, box: FrameBox) -> float:
    """How much larger the element is on b than the match of the two pictures tells: where much goes its own way, the
    bend goes along with it and hides some of that."""
    x, y = np.meshgrid(np.linspace(box[0], box[2], 7), np.linspace(box[1], box[3], 7))
    places = np.column_stack([x.ravel(), y.ravel()])
    there = apply(transform, places)
    h, w = ground.over.seen.shape
    held = (there >= 0).all(axis=1) & (there[:, 0] < w) & (there[:, 1] < h)
    if held.sum() < 4:
        return float(np.hypot(transform[0, 0], transform[1, 0]))
    at = there[held].astype(np.intp)
    found = fit_similarity(places[held], there[held] + ground.over.bend[at[:, 1], at[:, 0]])
    return float(np.hypot(found[0, 0], found[1, 0]))


def _swept(told: Mask, transform: Matrix, rules: DifferRules) -> Mask:
    """All that an element hid or laid bare by going its way: where it is on a, and where it is on b."""
    own = cv2.morphologyEx(told.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    to_cells = np.diag([STEP_PX, STEP_PX, 1.0])
    there = np.linalg.inv(to_cells) @ transform @ to_cells
    gone = cv2.warpAffine(own, there[:2], (told.shape[1], told.shape[0]), flags=cv2.INTER_NEAREST)
    side = 2 * (rules.window_px // STEP_PX) + 1
    return cv2.dilate(own | gone, np.ones((side, side), np.uint8)) > 0
