"""Elements that went their own way, believed where the two pictures agree once they are put in place."""

from dataclasses import replace

import cv2
import numpy as np

from intake.config.differ import DifferRules
from intake.imaging.elements import Moved, moved_elements
from intake.imaging.geometry import Matrix, apply, fit_similarity
from intake.imaging.patches import even_within, evenness
from intake.imaging.placed import SIZES, Planes, drawn_up, found_again, planes_of
from intake.imaging.regions import Found, cells_in, components, corners_of, tight
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import FrameBox, Ground, Mask, box_of, hull_of, scores_with, whole_cells

_MOST_SEARCHED, _LEAST_SEARCHED, _LEAST_FOUND_AGAIN = 3, 60, 0.6
_WINDOW_PX, _MOST_WINDOWS, _MOST_TRIED, _LEAST_OF_WINDOW = 96, 10, 3, 0.6
_OUT_PX = 160
_LEAST_GAIN = 0.25


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
    planes = planes_of(*(p.astype(np.float32) for p in ground.twins))
    for group in groups:
        region = _as_element(ground, planes, group, left, rules)
        if region is None:
            continue
        found.append(region[0])
        left &= ~_swept(region[0].cells, region[1], rules)
    found, left = _searched(ground, planes, left, found, rules)
    return found, left


def _searched(
    ground: Ground, planes: Planes, left: Mask, found: list[Found], rules: DifferRules
) -> tuple[list[Found], Mask]:
    """Elements that too few keypoints tell: what is left of a place is looked for at every size, as a whole and in
    parts, since elements that touch are one place."""
    score = np.maximum(*ground.scores)
    reach = rules.reach / 2 * max(ground.over.seen.shape)
    for cells in sorted(components(left, score, rules), key=lambda c: -int(c.sum()))[:_MOST_SEARCHED]:
        if cells.sum() < _LEAST_SEARCHED:
            break
        bare = max(evenness(p, tight(cells, rules), even_within(p, rules)) for p in (ground.over.a, ground.over.b))
        if bare >= rules.even:  # painted out: nothing is there to be found again
            continue
        seen = [(again, box) for box in _windows(cells, rules) if (again := found_again(planes, box, reach))]
        seen = [(again, box) for again, box in seen if again.gain >= _LEAST_GAIN]
        for again, box in sorted(seen, key=lambda s: -s[0].gain)[:_MOST_TRIED]:
            group = Moved(again.transform, corners_of(box))
            asked = cells_in(box, cells.shape, 0) & cells & left
            if asked.sum() < rules.least_cells:
                continue
            region = _as_element(ground, planes, group, left, rules, within=asked)
            if region is not None:
                found.append(region[0])
                left &= ~_swept(region[0].cells, region[1], rules)
    return found, left


def _windows(cells: Mask, rules: DifferRules) -> list[FrameBox]:
    """The box of a place, and where that is large windows within it, those that differ most first."""
    whole = tight(cells, rules)
    if max(whole[2] - whole[0], whole[3] - whole[1]) < 1.5 * _WINDOW_PX:
        return [whole]
    share = cv2.boxFilter(cells.astype(np.float32), -1, (_WINDOW_PX // STEP_PX, _WINDOW_PX // STEP_PX))
    made: list[tuple[float, FrameBox]] = []
    step = _WINDOW_PX // STEP_PX // 2
    for y in range(step, cells.shape[0] - step, step):
        for x in range(step, cells.shape[1] - step, step):
            if share[y, x] >= _LEAST_OF_WINDOW:
                at_x, at_y = x * STEP_PX, y * STEP_PX
                half = _WINDOW_PX / 2
                made.append((float(share[y, x]), (at_x - half, at_y - half, at_x + half, at_y + half)))
    return [whole, *(box for _, box in sorted(made, reverse=True)[:_MOST_WINDOWS])]


def _as_element(
    ground: Ground, planes: Planes, group: Moved, flagged: Mask, rules: DifferRules,
    within: Mask | None = None,
) -> tuple[Found, Matrix] | None:  # fmt: skip
    """The region and the way that it went. ``within``: cells that were looked for again; what hangs on them and follows
    them belongs to the element."""
    h, w = ground.over.seen.shape
    hull = hull_of(group.points, flagged.shape, grow_px=28)
    asked = hull & flagged if within is None else within
    least = rules.least_explained if within is None else _LEAST_FOUND_AGAIN
    if asked.sum() < rules.least_cells:
        return None
    # what lies around an element does not come along: it is asked of the element itself
    own = hull_of(group.points, flagged.shape, grow_px=4) & hull
    core = asked & own
    if not core.any():
        return None
    group = replace(group, transform=drawn_up(planes, group.transform, _pixels(core, (h, w))))
    told = asked & _follows(ground, group, hull, rules)
    if told.sum() < rules.least_cells or (told & core).sum() < least * core.sum():
        return None
    group = replace(group, transform=drawn_up(planes, group.transform, _pixels(told, (h, w))))
    if within is not None:
        group, told = _grown_out(ground, planes, group, told, flagged, rules)
        own = core = told
    held = float((core & _follows(ground, group, core, rules)).sum() / core.sum())
    box = box_of(told | own)
    corners = apply(group.transform, corners_of(box))
    on_b = (*corners.min(axis=0), *corners.max(axis=0))
    middle = np.array([[(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]])
    away = float(np.hypot(*(apply(group.transform, middle) - middle)[0])) / max(h, w)
    factor = _grown(ground, group, box)
    if within is not None and not SIZES[0] <= factor <= SIZES[1]:
        return None
    if abs(factor - 1) >= rules.least_factor:
        also = f", and moved by {away:.1%} of the long side" if away > 4 * rules.least_move else ""
        words = rules.words["scaled"].format(
            more="larger" if factor > 1 else "smaller", percent=100 * abs(factor - 1), moved=also
        )
        return Found("scaled", told, box, on_b, words, factor, held), group.transform
    if away < rules.least_move:
        return None
    words = rules.words["moved"].format(percent=100 * away)
    return Found("moved", told, box, on_b, words, explained=held), group.transform


def _pixels(cells: Mask, size: tuple[int, int]) -> Mask:
    return cv2.resize(cells.astype(np.uint8), (size[1], size[0]), interpolation=cv2.INTER_NEAREST) > 0


def _follows(ground: Ground, group: Moved, cells: Mask, rules: DifferRules) -> Mask:
    """Which cells about these are told, with b put where the element went."""
    h, w = ground.over.seen.shape
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    placed = cv2.warpPerspective(ground.over.b, group.transform, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    score = scores_with(ground, placed, rules, whole_cells(box_of(cells), rules.window_px, (h, w)))
    return np.asarray(score < rules.flagged, np.bool_)


def _grown_out(
    ground: Ground, planes: Planes, group: Moved, told: Mask, flagged: Mask, rules: DifferRules
) -> tuple[Moved, Mask]:
    """The element as far as it goes: what hangs on ``told`` and is told by the same way, which is drawn up on all of
    it."""
    side = 2 * (_OUT_PX // STEP_PX) + 1
    for _ in range(2):
        about = (cv2.dilate(told.astype(np.uint8), np.ones((side, side), np.uint8)) > 0) & flagged
        if not about.any():
            break
        follows = about & _follows(ground, group, about, rules)
        follows = cv2.morphologyEx(follows.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
        _, labels = cv2.connectedComponents(follows)
        held = np.isin(labels, np.unique(labels[told & (labels > 0)])) & (labels > 0)
        if held.sum() <= told.sum():
            break
        told = held
        group = replace(group, transform=drawn_up(planes, group.transform, _pixels(told, ground.over.seen.shape)))
    return group, told


def _grown(ground: Ground, group: Moved, box: FrameBox) -> float:
    """How much larger the element is on b than the match of the two pictures tells: where much goes its own way, the
    bend goes along with it and hides some of that."""
    x, y = np.meshgrid(np.linspace(box[0], box[2], 7), np.linspace(box[1], box[3], 7))
    places = np.column_stack([x.ravel(), y.ravel()])
    there = apply(group.transform, places)
    h, w = ground.over.seen.shape
    held = (there >= 0).all(axis=1) & (there[:, 0] < w) & (there[:, 1] < h)
    if held.sum() < 4:
        return group.factor
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
