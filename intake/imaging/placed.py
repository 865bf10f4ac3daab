"""How an element went its way, told on all of its pixels: its similarity is drawn up until the two lie best.

Keypoints leave a per cent or two of an element's size open, as few of them lie at its ends; its edges do not.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, apply, similarity

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Box = tuple[float, float, float, float]
_SOFT_PX = (3.0, 1.5)
_STEP = 2
_ROUNDS = 8
_STILL = 0.02
_LEAST_PX = 400
_MOST_GROWTH, _MOST_SHIFT = 0.12, 0.06
_TUKEY = 4.685
SIZES = (0.7, 1.43)  # an element is looked for from so small to so large
_FACTORS = tuple(float(f) for f in np.geomspace(*SIZES, 16))
_LEAST_TEMPLATE_PX, _LEAST_SEEN = 10, 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Again:
    """Where something is seen again: the similarity that leads there, and how much more alike it is there than where it
    was, as large as it was (correlations)."""

    transform: Matrix
    gain: float


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """Two pictures of one frame, (h, w) float32 in even light, as they are and softer: the softest first."""

    one: Floats
    other: Floats
    soft: tuple[tuple[Floats, Floats], ...]


def planes_of(one: Floats, other: Floats) -> Planes:
    """The two with what is looked at softer."""
    soft = [tuple(np.asarray(cv2.GaussianBlur(p, (0, 0), s), np.float32) for p in (one, other)) for s in _SOFT_PX]
    return Planes(one, other, tuple((a, b) for a, b in soft))


def drawn_up(planes: Planes, start: Matrix, inside: Mask) -> Matrix:
    """The similarity near ``start`` that leads ``inside`` of the one to where it lies best on the other; ``start``
    itself where that runs away.

    Gauss-Newton on the mean gradient of both (Benhimane and Malis 2004);
    pixels that do not come along have little say (Tukey's weights).
    """
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    if inside.sum() < _LEAST_PX:
        return start
    top, bottom, left, right = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
    y, x = np.mgrid[top:bottom:_STEP, left:right:_STEP].astype(np.float32)
    held = inside[top:bottom:_STEP, left:right:_STEP]
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    size = float(max(right - left, bottom - top)) / 2
    found = start.copy()
    for a, b in planes.soft:
        a = np.ascontiguousarray(a[top:bottom:_STEP, left:right:_STEP])
        for _ in range(_ROUNDS):
            m = found.astype(np.float32)
            at_x, at_y = m[0, 0] * x + m[0, 1] * y + m[0, 2], m[1, 0] * x + m[1, 1] * y + m[1, 2]
            laid = cv2.remap(b, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            step = _step(a, laid, held, (x - middle[0]) / size, (y - middle[1]) / size)
            if step is None:
                return start
            grow, turn, right_px, down_px = step
            near = complex(1 + grow / size, turn / size)
            found = found @ similarity(near, complex(right_px, down_px) + (1 - near) * complex(*middle))
            if np.abs(step).max() < _STILL:
                break
    return found if _near(start, found, middle, size) else start


def found_again(planes: Planes, box: Box, reach_px: float) -> Again | None:
    """The growth and shift under which what lies in the box (left, top, right, bottom) of the one is seen best on the
    other, no further than ``reach_px`` away; None where it is not seen.

    Every size is tried in turn (normalised cross-correlation), on planes of half the size.
    """
    small = [cv2.resize(p, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for p in (planes.one, planes.other)]
    left, top, right, bottom = (max(0, round(v / 2)) for v in box)
    template = small[0][top:bottom, left:right]
    if min(template.shape) < _LEAST_TEMPLATE_PX:
        return None
    (high, wide), reach = template.shape, round(reach_px / 2)
    best: tuple[float, float, float, float] = (-1, 1, 0, 0)
    for factor in _FACTORS:
        size = max(4, round(wide * factor)), max(4, round(high * factor))
        grown = cv2.resize(template, size, interpolation=cv2.INTER_AREA)
        h, w = grown.shape
        x0, y0 = max(0, round(left + wide / 2 - w / 2) - reach), max(0, round(top + high / 2 - h / 2) - reach)
        window = small[1][y0 : y0 + h + 2 * reach, x0 : x0 + w + 2 * reach]
        if window.shape[0] < h or window.shape[1] < w:
            continue
        alike = cv2.matchTemplate(window, grown, cv2.TM_CCOEFF_NORMED)
        _, value, _, (x, y) = cv2.minMaxLoc(alike)
        if value > best[0]:
            right_px, down_px = x + x0 + w / 2 - factor * (left + wide / 2), y + y0 + h / 2 - factor * (top + high / 2)
            best = value, factor, 2 * right_px, 2 * down_px
    value, factor, right_px, down_px = best
    if value < _LEAST_SEEN:
        return None
    was = cv2.matchTemplate(small[1][top:bottom, left:right], template, cv2.TM_CCOEFF_NORMED)
    return Again(similarity(complex(factor, 0), complex(right_px, down_px)), value - float(was.max()))


def _step(a: Floats, laid: Floats, held: Mask, u: Floats, v: Floats) -> NDArray[np.float64] | None:
    """Growth and turn (pixels at the element's end) and shift by which the one lies better on the other."""
    both = (a + laid) / (16 * _STEP)  # a Sobel is eight times the slope
    slope_x, slope_y = (np.asarray(cv2.Sobel(both, cv2.CV_32F, i, j)) for i, j in ((1, 0), (0, 1)))
    miss = a - laid
    miss = miss - np.median(miss[held])
    spread = 1.4826 * float(np.median(np.abs(miss[held]))) + 0.5
    weight = np.where(held, np.clip(1 - (miss / (_TUKEY * spread)) ** 2, 0, 1) ** 2, 0).ravel()
    design = np.stack([slope_x * u + slope_y * v, slope_y * u - slope_x * v, slope_x, slope_y], axis=-1).reshape(-1, 4)
    weighted = design * weight[:, None]
    normal = (weighted.T @ design).astype(np.float64)
    if np.linalg.cond(normal) > 1e8:
        return None
    return np.asarray(np.linalg.solve(normal, (weighted.T @ miss.ravel()).astype(np.float64)))


def _near(start: Matrix, found: Matrix, middle: NDArray[np.float64], size: float) -> bool:
    grown = float(np.hypot(found[0, 0], found[1, 0]) / np.hypot(start[0, 0], start[1, 0]))
    away = float(np.hypot(*(apply(found, middle[None]) - apply(start, middle[None]))[0]))
    return abs(np.log(grown)) < _MOST_GROWTH and away < max(6.0, 2 * _MOST_SHIFT * size)
