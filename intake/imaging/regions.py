"""Places of a frame that differ: their cells, their boxes, and what is measured of each."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from intake.config.differ import DifferRules
from intake.imaging.geometry import Points
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import Floats, FrameBox, Ground, Mask, box_of
from intake.kin import DifferenceKind

MEASURES = ("peak", "mean", "area", "agreeing", "levels", "both", "filled", "patch", "element", "rim", "many", "worded")
_DEEPER_CELLS = 5


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """A region of the frame: its cells and box on either side (left, top, right, bottom; frame pixels).

    ``explained``: the share of an element that is told where it went.
    """

    kind: DifferenceKind
    cells: Mask
    on_a: FrameBox
    on_b: FrameBox
    words: str
    factor: float | None = None
    explained: float = 0.0


def components(flagged: Mask, score: Floats, rules: DifferRules) -> list[Mask]:
    """The cells that hang together, by regions that are large enough and differ enough somewhere."""
    kernel = np.ones((rules.joined_cells, rules.joined_cells), np.uint8)
    joined = cv2.morphologyEx(flagged.astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    count, labels = cv2.connectedComponents(joined)
    made = []
    for label in range(1, count):
        cells = (labels == label) & flagged
        if cells.sum() >= rules.least_cells and score[cells].max() >= rules.peak:
            made.append(cells)
    return made


def slivers(flagged: Mask, inside: Mask) -> Mask:
    """What differs beside the rim alone: a picture's edge is not told to the pixel."""
    rim = beside_rim(inside)
    _, labels = cv2.connectedComponents(flagged.astype(np.uint8))
    deeper = np.bincount(labels.ravel(), weights=(~rim).ravel(), minlength=labels.max() + 1)
    return np.asarray(flagged & (deeper[labels] < _DEEPER_CELLS), np.bool_)


def measures(ground: Ground, region: Found, many: int) -> tuple[float, ...]:
    """Of a region, in the order of MEASURES: logarithms of its highest and mean score and of its cells; how far the
    pair agrees as a whole; the logarithm of what is untold in levels; how far both sides are untold; how much of its
    box is told by cells; whether it is a patch, how much of an element is told where it went, how much of it lies
    beside the rim; the logarithm of how ``many`` regions the pair has: where another hand drew all of it few are edits;
    and whether other words were read there."""
    cells = region.cells
    score = np.maximum(*ground.scores)[cells]
    untold = np.maximum(*(s * n for s, n in zip(ground.scores, ground.noise, strict=True)))[cells]
    has = [float((s[cells] > 1.5).mean()) for s in ground.scores]
    left, top, right, bottom = box_of(cells)
    return (
        math.log(max(1e-3, float(np.quantile(score, 0.9)))),
        math.log(max(1e-3, float(score.mean()))),
        math.log(float(cells.sum()) + 1),
        ground.agreeing,
        0.5 * math.log(max(1e-3, float(untold.mean()))),
        min(has) / max(1e-3, max(has)),
        float(cells.sum()) * STEP_PX**2 / max(1.0, (right - left) * (bottom - top)),
        float(region.kind in ("pasted", "covered")),
        region.explained,
        float(beside_rim(ground.inside)[cells].mean()),
        math.log(max(1, many)),
        float(region.kind == "lettering"),
    )


def beside_rim(inside: Mask) -> Mask:
    """The cells within three of the rim."""
    return inside & (cv2.erode(inside.astype(np.uint8), np.ones((7, 7), np.uint8), borderValue=0) == 0)


def cells_in(box: FrameBox, shape: tuple[int, int], grow_px: int) -> Mask:
    """The cells of a box of frame pixels that is grown by so much."""
    held = np.zeros(shape, bool)
    left, top = (max(0, int((v - grow_px) / STEP_PX)) for v in box[:2])
    right, bottom = (int((v + grow_px) / STEP_PX) + 1 for v in box[2:])
    held[top:bottom, left:right] = True
    return held


def tight(cells: Mask, rules: DifferRules) -> FrameBox:
    """The box of the cells less what the window smears."""
    left, top, right, bottom = box_of(cells)
    x, y = (max(0.0, min(rules.window_px / 3, (size - 8) / 2)) for size in (right - left, bottom - top))
    return left + x, top + y, right - x, bottom - y


def corners_of(box: FrameBox) -> Points:
    """(4, 2): left top, right top, right bottom, left bottom."""
    left, top, right, bottom = box
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float64)
