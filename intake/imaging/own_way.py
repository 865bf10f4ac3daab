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
from intake.imaging.untold import FrameBox, Ground, Mask, box_of, scores_with, whole_cells
from intake.imaging.voted import seen_again

_NEAR_PX, _OUT_PX = 28, 96
_ROUGH, _FINER = (4.0, 2.0), (2.0, 1.0)
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
        near = _near(group, flagged)
        transform, gain = drawn_up(planes, group.transform, near, _ROUGH)
        proposed.append((gain, replace(group, transform=transform)))
    found: list[tuple[Found, Matrix]] = []
    left = flagged.copy()
    for _, group in sorted(proposed, key=lambda p: -p[0]):
        region = _as_element(ground, planes, group, left, rules)
        if region is None:
            continue
        left &= ~_swept(region[0].cells, region[1], rules)
        for other in found:
            joined = _joined(ground, planes, region, other, rules)
            if joined is not None:
                found.remove(other)
                region = joined
                break
        found.append(region)
    return [region for region, _ in found], left


def _joined(
    ground: Ground, planes: Planes, one: tuple[Found, Matrix], other: tuple[Found, Matrix], rules: DifferRules
) -> tuple[Found, Matrix] | None:
    """Two parts of one element, which something in front may divide, as one; None where they went different ways."""
    corners = np.concatenate([corners_of(part.on_a) for part, _ in (one, other)])
    apart = np.hypot(*(apply(one[1], corners) - apply(other[1], corners)).T).max()
    size = np.hypot(*np.ptp(corners, axis=0))
    if apart > max(rules.miss_px, rules.search.one_way * size):
        return None
    cells = one[0].cells | other[0].cells
    many = one[0].cells.sum(), other[0].cells.sum()
    start = one[1] if many[0] >= many[1] else other[1]
    share = float(np.average((one[0].explained, other[0].explained), weights=many))
    return _told_as(ground, drawn_up(planes, start, cells)[0], cells, share, rules)


def _as_element(
    ground: Ground, planes: Planes, group: Moved, flagged: Mask, rules: DifferRules
) -> tuple[Found, Matrix] | None:
    """The region and the way that it went."""
    core = _near(group, flagged)
    if core.sum() < rules.least_cells:
        return None
    transform, _ = drawn_up(planes, group.transform, core, _FINER)
    better = _gaining(planes, transform, core, flagged, rules)
    if better.sum() < rules.least_cells:
        return None
    # its ends tell its size best, and what about it does not come along has no say
    transform, _ = drawn_up(planes, transform, _about(better, flagged))
    better = _gaining(planes, transform, core, flagged, rules)
    if better.sum() < rules.least_cells:
        return None
    follows = _follows(ground, transform, core | better, rules) & flagged
    share = float(follows[core].mean())
    if share < rules.search.explained or follows[better].mean() < rules.search.agreed:
        return None
    told = _hanging(follows & (core | better), core)
    if told.sum() < rules.least_cells:
        return None
    return _told_as(ground, transform, told, share, rules)


def _told_as(
    ground: Ground, transform: Matrix, told: Mask, share: float, rules: DifferRules
) -> tuple[Found, Matrix] | None:
    """What is said of cells that went this way; None where they stand still or grew beyond belief."""
    box = box_of(told)
    corners = apply(transform, corners_of(box))
    on_b = (*corners.min(axis=0), *corners.max(axis=0))
    middle = np.array([[(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]])
    away = float(np.hypot(*(apply(transform, middle) - middle)[0])) / max(ground.over.seen.shape)
    factor = _grown(ground, transform, box)
    if not rules.search.sizes[0] <= factor <= rules.search.sizes[1]:
        return None
    if abs(factor - 1) >= rules.least_factor:
        also = f", and moved by {away:.1%} of the long side" if away > 4 * rules.least_move else ""
        words = rules.words["scaled"].format(
            more="larger" if factor > 1 else "smaller", percent=100 * abs(factor - 1), moved=also
        )
        return Found("scaled", told, box, on_b, words, factor, share), transform
    if away < rules.least_move:
        return None
    words = rules.words["moved"].format(percent=100 * away)
    return Found("moved", told, box, on_b, words, explained=share), transform


def _gaining(planes: Planes, transform: Matrix, core: Mask, flagged: Mask, rules: DifferRules) -> Mask:
    """The flagged cells that gain by going the element's way, as far as they hang on ``core``."""
    about = _about(core, flagged)
    left, top, right, bottom = cells = around(about)
    gain = np.zeros(flagged.shape, np.float32)
    gain[top:bottom, left:right] = gains(planes, transform, cells)
    return _hanging(about & (gain >= rules.search.gain), core)


def _near(group: Moved, flagged: Mask) -> Mask:
    """The flagged cells about the places of a group."""
    made = np.zeros(flagged.shape, np.uint8)
    rows, columns = flagged.shape
    x, y = (np.clip(group.points[:, k] / STEP_PX, 0, n - 1).astype(np.intp) for k, n in ((0, columns), (1, rows)))
    made[y, x] = 1
    side = 2 * (_NEAR_PX // STEP_PX) + 1
    return np.asarray((cv2.dilate(made, np.ones((side, side), np.uint8)) > 0) & flagged, np.bool_)


def _about(cells: Mask, flagged: Mask) -> Mask:
    """The flagged cells about these."""
    side = 2 * (_OUT_PX // STEP_PX) + 1
    return np.asarray((cv2.dilate(cells.astype(np.uint8), np.ones((side, side), np.uint8)) > 0) & flagged, np.bool_)


def _hanging(cells: Mask, core: Mask) -> Mask:
    """The cells, less what is thinner than three, that hang together with the core."""
    opened = cv2.morphologyEx(cells.astype(np.uint8), cv2.MORPH_OPEN, _OPENED)
    _, labels = cv2.connectedComponents(opened)
    return np.asarray(np.isin(labels, np.unique(labels[core])) & (labels > 0), np.bool_)


def _follows(ground: Ground, transform: Matrix, cells: Mask, rules: DifferRules) -> Mask:
    """Which cells about these are told, with b put where the element went."""
    h, w = ground.over.seen.shape
    left, top, right, bottom = where = whole_cells(box_of(cells), rules.window_px, (h, w))
    placed = np.zeros_like(ground.over.b)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    way = transform @ np.array([[1, 0, left], [0, 1, top], [0, 0, 1.0]])
    size = (right - left, bottom - top)
    placed[top:bottom, left:right] = cv2.warpPerspective(
        ground.over.b, way, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    score = scores_with(ground, placed, rules, where)
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
