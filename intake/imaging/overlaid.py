"""Strips and patches that lie over the one picture and not over the other."""

import cv2
import numpy as np

from intake.config.differ import DifferRules
from intake.imaging.lettering import Line, texts_in
from intake.imaging.patches import even_within, evenness, patches, strips
from intake.imaging.regions import Found, cells_in, components, tight
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import Floats, FrameBox, Ground, Mask, box_of

_MOST_OF, _EVENER = 0.4, 0.15
_JOINED, _OPENED = np.ones((3, 3), np.uint8), np.ones((5, 5), np.uint8)


def patched(
    ground: Ground, flagged: Mask, score: Floats, lines_a: list[Line], lines_b: list[Line],
    rules: DifferRules,
) -> tuple[list[Found], Mask]:  # fmt: skip
    """Patches of one ground that lie over the one picture and not over the other, and the cells left."""
    found: list[Found] = []
    left = flagged.copy()
    for cells in components(left, score, rules):
        box = tight(cells, rules)
        for picture, other, on, lines in (
            (ground.over.b, ground.over.a, "the second", lines_b),
            (ground.over.a, ground.over.b, "the first", lines_a),
        ):
            for patch in patches(picture, cells, box, even_within(picture, rules), rules):
                even = evenness(other, patch.box, even_within(other, rules))
                under = cells_in(patch.box, cells.shape, rules.window_px // 2) & left
                if patch.even < even + 0.1 or under.sum() < rules.least_cells:
                    continue
                read = texts_in(lines, patch.box)
                if patch.long >= rules.strip_long:
                    words = rules.words["pasted"].format(on=on, reads=f", reads “{read}”" if read else "")
                    found.append(Found("pasted", under, patch.box, patch.box, words))
                elif patch.even >= rules.even:
                    where = patch.box
                    if under.sum() >= _MOST_OF * cells.sum():  # the rest of the place is its rim
                        under, where = cells & left, _around(patch.box, box)
                    found.append(Found("covered", under, where, where, rules.words["covered"].format(on=on)))
                else:
                    continue
                left &= ~under
    return found, left


def stripped(
    ground: Ground, flagged: Mask, lines_a: list[Line], lines_b: list[Line],
    rules: DifferRules,
) -> tuple[list[Found], Mask]:  # fmt: skip
    """Even bands between straight cuts that lie over the one picture and not over the other, and the cells left."""
    found: list[Found] = []
    left = flagged.copy()
    for picture, other, on, lines in (
        (ground.sharp.b, ground.sharp.a, "the second", lines_b),
        (ground.sharp.a, ground.sharp.b, "the first", lines_a),
    ):
        levels, others = even_within(picture, rules), even_within(other, rules)
        for box in strips(picture, levels, rules):
            core = cells_in(box, flagged.shape, 0) & ground.inside
            under = cells_in(box, flagged.shape, rules.window_px // 2) & left
            if under.sum() < rules.least_cells or not core.any():
                continue
            # a cut band need not differ all over where it alone is even, nor be the evener one where all of it differs
            differs = float((core & left).sum() / core.sum())
            evener = evenness(picture, box, levels) - evenness(other, box, others)
            if differs < rules.strip_seen or differs + evener < rules.strip_told:
                continue
            read = texts_in(lines, box)
            words = rules.words["pasted"].format(on=on, reads=f", reads “{read}”" if read else "")
            found.append(Found("pasted", under, box, box, words))
            left &= ~under
    return found, left


def blanked(ground: Ground, flagged: Mask, rules: DifferRules) -> tuple[list[Found], Mask]:
    """Four-sided places where the one picture is bare of all that the other shows, and the cells left."""
    found: list[Found] = []
    left = flagged.copy()
    reach = 2 * (rules.window_px // (2 * STEP_PX)) + 1
    for bare, picture, other, on in (
        (ground.bare[1], ground.over.b, ground.over.a, "the second"),
        (ground.bare[0], ground.over.a, ground.over.b, "the first"),
    ):
        opened = cv2.morphologyEx((bare & ground.inside).astype(np.uint8), cv2.MORPH_CLOSE, _JOINED)
        count, labels = cv2.connectedComponents(cv2.morphologyEx(opened, cv2.MORPH_OPEN, _OPENED))
        for label in range(1, count):
            core = labels == label
            box = box_of(core)
            if core.sum() < rules.strip_fill * (box[2] - box[0]) * (box[3] - box[1]) / STEP_PX**2:
                continue
            even = evenness(picture, box, even_within(picture, rules))
            if even < rules.even or even < evenness(other, box, even_within(other, rules)) + _EVENER:
                continue
            where = _ground_of(picture, core, even_within(picture, rules), rules) or box
            beside = cv2.dilate(core.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
            cells = (beside | cells_in(where, core.shape, rules.window_px // 2)) & left
            if cells.sum() < rules.least_cells:
                continue
            found.append(Found("covered", cells, where, where, rules.words["covered"].format(on=on)))
            left &= ~cells
    return found, left


def _ground_of(picture: Floats, core: Mask, levels: float, rules: DifferRules) -> FrameBox | None:
    """The box of the even ground that a bare place lies on, as it may go on where the other picture is bare too; None
    where that is not four-sided."""
    inner = cv2.resize(core.astype(np.uint8), (picture.shape[1], picture.shape[0]), interpolation=cv2.INTER_NEAREST) > 0
    even = np.abs(picture - np.median(picture[inner], axis=0)).max(axis=2) < levels
    opened = cv2.morphologyEx(even.astype(np.uint8), cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(opened)
    at = int(np.bincount(labels[inner]).argmax())
    left, top, wide, high, many = (int(v) for v in stats[at])
    if at == 0 or many < rules.strip_fill * wide * high:
        return None
    return float(left), float(top), float(left + wide), float(top + high)


def _around(one: FrameBox, other: FrameBox) -> FrameBox:
    return min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])
