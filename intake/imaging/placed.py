"""How an element went its way, told on all that differs of it: a similarity is drawn up until the two lie best.

Keypoints leave a per cent or two of an element's size open, as few of them lie at its ends; its edges do not.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, similarity
from intake.imaging.structure import STEP_PX

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Cells = tuple[int, int, int, int]  # left, top, right, bottom
_SHRUNK = 2
_PER_CELL = STEP_PX // _SHRUNK
_SOFT_PX = 0.8
_LEAST_CONTRAST = 64.0  # levels squared that say nothing, in even light
_LEAST_ALIKE = 0.3
_STEPS = (4.0, 2.0, 1.0, 0.5)  # px at the end of the element, and of its shift
_ROUNDS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """Two pictures of one frame in even light at half the size, (h, w) float32 about 0; ``mean`` and ``spread`` of the
    one within a window around each place; ``still``: how alike each cell is where it was."""

    one: Floats
    other: Floats
    mean: Floats
    spread: Floats
    window: int
    still: Floats


def planes_of(one: NDArray[np.uint8], other: NDArray[np.uint8], window_px: int) -> Planes:
    """The two (h, w), made ready to be compared within windows."""
    size = (one.shape[1] // _SHRUNK, one.shape[0] // _SHRUNK)
    window = round(window_px / _SHRUNK) | 1
    small = []
    for plane in (one, other):
        soft = cv2.GaussianBlur(plane.astype(np.float32), (0, 0), _SOFT_PX)
        cut = soft[: size[1] * _SHRUNK, : size[0] * _SHRUNK]
        small.append(np.asarray(cv2.resize(cut, size, interpolation=cv2.INTER_AREA) - 128, np.float32))
    mean = _mean(small[0], window)
    spread = np.maximum(_mean(small[0] ** 2, window) - mean * mean, 0)
    cells = tuple(len(range(STEP_PX // 2, n, STEP_PX)) for n in one.shape)
    bare = Planes(small[0], small[1], mean, spread, window, np.empty(0, np.float32))
    still = likeness(bare, np.eye(3), (0, 0, cells[1], cells[0]))
    return Planes(small[0], small[1], mean, spread, window, still)


def likeness(planes: Planes, transform: Matrix, cells: Cells) -> Floats:
    """How alike the one is around each cell to the other where the transform leads: a correlation within a window."""
    left, top, right, bottom = (_PER_CELL * v for v in cells)
    pad = planes.window // 2 + 1
    h, w = planes.one.shape
    x0, y0, x1, y1 = max(0, left - pad), max(0, top - pad), min(w, right + pad), min(h, bottom + pad)
    grown = np.array([[_SHRUNK, 0, (_SHRUNK - 1) / 2], [0, _SHRUNK, (_SHRUNK - 1) / 2], [0, 0, 1.0]])
    there = np.linalg.inv(grown) @ transform @ grown @ np.array([[1, 0, x0], [0, 1, y0], [0, 0, 1.0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = cv2.warpAffine(planes.other, there[:2], (x1 - x0, y1 - y0), flags=flags)
    cut = (slice(y0, y1), slice(x0, x1))
    mean = _mean(laid, planes.window)
    spread = np.maximum(_mean(laid * laid, planes.window) - mean * mean, 0)
    both = _mean(planes.one[cut] * laid, planes.window) - planes.mean[cut] * mean
    alike = both / np.sqrt((planes.spread[cut] + _LEAST_CONTRAST) * (spread + _LEAST_CONTRAST))
    half = _PER_CELL // 2
    told = alike[top - y0 + half : bottom - y0 : _PER_CELL, left - x0 + half : right - x0 : _PER_CELL]
    out = np.zeros((cells[3] - cells[1], cells[2] - cells[0]), np.float32)
    out[: told.shape[0], : told.shape[1]] = told
    return out


def gains(planes: Planes, transform: Matrix, cells: Cells) -> Floats:
    """How much more alike each cell is where the transform leads than where it was, and than chance; never below 0."""
    left, top, right, bottom = cells
    was = np.maximum(planes.still[top:bottom, left:right], _LEAST_ALIKE)
    return np.maximum(likeness(planes, transform, cells) - was, 0)


def drawn_up(planes: Planes, start: Matrix, inside: Mask, steps: tuple[float, ...] = _STEPS) -> tuple[Matrix, float]:
    """The similarity near ``start`` under which the cells ``inside`` gain most, and what they gain in all.

    Growth and shift are tried one after the other by ever smaller steps (compass search; Hooke and Jeeves 1961): what
    does not come along gains nothing and has no say, and the sum falls on neither side of a ridge unseen.
    """
    if not inside.any():
        return start, 0.0
    cells = around(inside)
    held = inside[cells[1] : cells[3], cells[0] : cells[2]]
    rows, columns = np.nonzero(inside)
    middle = complex(columns.mean() * STEP_PX, rows.mean() * STEP_PX)
    reach = 2 * STEP_PX * float(np.hypot(rows.std(), columns.std())) + 1e-6

    def gain(transform: Matrix) -> float:
        return float(gains(planes, transform, cells)[held].sum())

    found, best = start, gain(start)
    for step in steps:
        grown = 1 + step / reach
        tries = [(grown, 0j), (1 / grown, 0j), (1, step + 0j), (1, -step + 0j), (1, step * 1j), (1, -step * 1j)]
        for _ in range(_ROUNDS):
            made = [found @ similarity(complex(f), by + (1 - f) * middle) for f, by in tries]
            told = [gain(m) for m in made]
            at = int(np.argmax(told))
            if told[at] <= best:
                break
            found, best = made[at], told[at]
    return found, best


def around(cells: Mask) -> Cells:
    """The box of cells."""
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def _mean(plane: Floats, window: int) -> Floats:
    return np.asarray(cv2.blur(plane, (window, window)), np.float32)
