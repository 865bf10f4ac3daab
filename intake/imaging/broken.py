"""How far ink is broken along a straight line: read from a narrow band of the original.

On a real fold ink has flaked to bare paper in short stretches, with hard edges. A fold that was photographed and
printed again is as soft as that picture, and its bright places are thin ink, not paper.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box

Point = NDArray[np.float64]
# the band is looked at no finer than this, and reaches so far to both sides of the line
_PX_PER_MM = 5.0
_REACH_MM = 9.0
# where the line itself is looked for, where the ground beside it lies, and how wide it may be
_STRAY_MM, _GROUND_MM = 2.5, (1.3, 2.6)
_BLOCK_MM = 2.0
# a printed rule: so much of the paper shows in most rows, it reaches no further than this, and its edge is so soft
_RULE_SHOWN, _RULE_MM, _RULE_EDGE_PX = 0.5, 2.3, 1
# the finest line is so wide on a scan: its own pixel and that of the band
_FINEST_PX = 2.0
# a fold breaks ink all along, print that crosses it here and there: each stretch says for itself, and most decide
_STRETCH_MM, _STRETCH_DARK, _STRETCH_ROWS = 20.0, 0.4, 8
_DARK_LEVELS = 50.0
# how far from a line of the finest width its ground begins; room to paper and light over the ground count for so much
_FINE_PX, _LEAST_ROOM, _LEAST_LIGHT = 2, 20.0, 0.02


@dataclass(frozen=True, slots=True)
class Broken:
    """``bare``: the share of paper that shows in the brightest tenth of most stretches of the line, on dark ground (0
    to 1); ``open``: share of the length where more than half shows; ``width_mm``: how much wider the bright line is at
    half its height than the finest that the scan could show (0 when there is none); ``fine``: the share of the line's
    light that is gone within two pixels of it, on the mean of its length (0 to 1: 1 is as fine as the scan can show);
    ``length``: the share of the line that has ground to break."""

    bare: float
    open: float
    width_mm: float
    fine: float
    length: float


def band(
    start: Point, end: Point, px_per_mm: float, crop: Callable[[Box, int | None], NDArray[np.uint8]]
) -> tuple[NDArray[np.float32], float]:
    """Return the grey band about the line from ``start`` to ``end`` (stored pixels), (length, width), and its scale.

    ``crop`` gives a box of the page. Raises ValueError where the line leaves the page.
    """
    reach = _REACH_MM * px_per_mm
    low, high = np.floor(np.minimum(start, end) - reach), np.ceil(np.maximum(start, end) + reach)
    low = np.maximum(low, 0)
    box = Box(int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1]))
    scale = min(px_per_mm, _PX_PER_MM)
    longest = max(1, round(max(box.width, box.height) * scale / px_per_mm))
    seen = cv2.cvtColor(crop(box, longest), cv2.COLOR_RGB2GRAY)
    shrink = scale / px_per_mm
    length = float(np.hypot(*(end - start)))
    along = (end - start) / max(length, 1e-6)
    across = np.array([-along[1], along[0]])
    half = max(3, round(_REACH_MM * scale))
    size = (2 * half + 1, max(2, round(length * shrink)))
    # band pixel (x, y) -> picture pixel: start + along * y + across * (x - half)
    origin = (start - low) * shrink - across * half
    matrix = np.array([[across[0], along[0], origin[0]], [across[1], along[1], origin[1]]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = cv2.warpAffine(seen, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return laid.astype(np.float32), scale


def broken(laid: NDArray[np.float32], px_per_mm: float, paper: float) -> Broken:
    """Return how the ink is broken along the middle of a band; ``paper`` is the level of bare paper."""
    near, far = (round(mm * px_per_mm) for mm in _GROUND_MM)
    stray = round(_STRAY_MM * px_per_mm)
    middle = laid.shape[1] // 2
    path = _path(laid, middle, stray, max(1, round(_BLOCK_MM * px_per_mm)), near)
    on, dark = _shown(laid, path, near, far, paper)
    rows = max(_STRETCH_ROWS, round(_STRETCH_MM * px_per_mm))
    stretches = [
        one
        for one in (slice(first, first + rows) for first in range(0, len(on), rows))
        if dark[one].sum() >= max(_STRETCH_ROWS, _STRETCH_DARK * rows)
    ]
    if not stretches:
        return Broken(0.0, 0.0, 0.0, 0.0, 0.0)
    bare = float(np.median([np.percentile(on[one][dark[one]], 90) for one in stretches]))
    width = math.sqrt(max(0.0, _width(laid, path, on, dark, near, far) ** 2 - _FINEST_PX**2)) / px_per_mm
    fine = _fine(laid[dark], path[dark], max(_FINE_PX + 1, near), paper)
    return Broken(bare, float((on[dark] > 0.5).mean()), width, fine, float(dark.mean()))


def beside_rule(laid: NDArray[np.float32], px_per_mm: float, paper: float) -> NDArray[np.float32] | None:
    """Return a band without the columns of the white rule along its middle, for ``broken``: a fold strays from a rule
    that is printed along it, into ink. None where no rule ends within reach, or the ground is as light."""
    near, _ = (round(mm * px_per_mm) for mm in _GROUND_MM)
    stray, reach = round(_STRAY_MM * px_per_mm), round(_RULE_MM * px_per_mm)
    half = laid.shape[1] // 2
    path = _path(laid, half, stray, max(1, round(_BLOCK_MM * px_per_mm)), near)
    columns = np.clip(path[:, None] + np.arange(-half, half + 1), 0, laid.shape[1] - 1)
    aligned = laid[np.arange(len(laid))[:, None], columns]
    outer = (aligned[:, half - 2 * reach : half - reach], aligned[:, half + reach + 1 : half + 2 * reach + 1])
    ground = np.minimum(*(np.median(side, axis=1) for side in outer))
    dark = paper - ground > _DARK_LEVELS
    if dark.sum() < _STRETCH_ROWS:
        return None
    shown = (aligned[dark] - ground[dark, None]) / (paper - ground[dark, None])
    ends = np.flatnonzero(np.median(shown, axis=0) <= _RULE_SHOWN) - half
    left, right = ends[ends < 0].max(initial=-half), ends[ends > 0].min(initial=half)
    if left < -reach or right > reach:
        return None
    sides = aligned[:, : half + left - _RULE_EDGE_PX + 1], aligned[:, half + right + _RULE_EDGE_PX :]
    keep = min(side.shape[1] for side in sides)
    if keep <= stray + near:
        return None
    return np.ascontiguousarray(np.hstack([sides[0][:, -keep:], sides[1][:, :keep]]))


def _path(laid: NDArray[np.float32], middle: int, stray: int, block: int, near: int) -> NDArray[np.intp]:
    """Where the bright line runs: the best smooth path over blocks of rows, as a column for each row."""
    count = max(2, laid.shape[0] // block)
    rows = cv2.resize(laid, (laid.shape[1], count), interpolation=cv2.INTER_AREA)
    columns = np.arange(middle - stray, middle + stray + 1)
    ridge = rows[:, columns] - np.maximum(rows[:, columns - near], rows[:, columns + near])
    gain = np.clip(ridge / max(float(np.percentile(np.abs(ridge), 80)), 1.0), -1, 2)
    total, back = gain[0].copy(), np.zeros(gain.shape, np.intp)
    for row in range(1, count):
        from_ = np.stack([np.roll(total, 1), total + 0.15, np.roll(total, -1)])
        from_[0, 0] = from_[2, -1] = -1e9
        back[row] = from_.argmax(axis=0) - 1
        total = from_.max(axis=0) + gain[row]
    path = np.empty(count, np.intp)
    path[-1] = int(total.argmax())
    for row in range(count - 1, 0, -1):
        path[row - 1] = np.clip(path[row] + back[row, path[row]], 0, len(columns) - 1)
    return np.asarray(
        np.round(np.interp(np.arange(laid.shape[0]), (np.arange(count) + 0.5) * block, columns[path])).astype(np.intp)
    )


def _shown(
    laid: NDArray[np.float32], path: NDArray[np.intp], near: int, far: int, paper: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """For every row the share of bare paper at ``path`` beyond the brighter ground beside it, and whether that ground
    is dark enough to tell."""
    rows = np.arange(len(laid))[:, None]

    def at(offsets: NDArray[np.intp]) -> NDArray[np.float32]:
        return laid[rows, np.clip(path[:, None] + offsets, 0, laid.shape[1] - 1)]

    sides = [at(side * np.arange(near, far + 1)).mean(axis=1) for side in (-1, 1)]
    ground = np.maximum(*sides)
    line = at(np.arange(-1, 2)).max(axis=1)
    room = paper - ground
    return (line - ground) / np.maximum(room, 1.0), room > _DARK_LEVELS


def _fine(laid: NDArray[np.float32], path: NDArray[np.intp], beside: int, paper: float) -> float:
    """How much of the light that the line has over its ground, ``beside`` pixels away, it has over ``_FINE_PX`` away.

    Each row is laid on its own peak. Over all rows together what is printed beside the line comes to nothing.
    """
    rows = np.arange(len(laid))
    columns = np.clip(path[:, None] + np.arange(-beside - 1, beside + 2), 0, laid.shape[1] - 1)
    room = np.maximum(paper - np.median(laid[rows[:, None], columns], axis=1), _LEAST_ROOM)
    peak = (
        path + laid[rows[:, None], np.clip(path[:, None] + np.arange(-1, 2), 0, laid.shape[1] - 1)].argmax(axis=1) - 1
    )

    def over(away: int) -> float:
        light = [laid[rows, np.clip(peak + place, 0, laid.shape[1] - 1)] for place in (0, -away, away)]
        return float(((light[0] - (light[1] + light[2]) / 2) / room).mean())

    return min(1.0, max(0.0, over(_FINE_PX) / max(over(beside), _LEAST_LIGHT)))


def _width(
    laid: NDArray[np.float32],
    path: NDArray[np.intp],
    on: NDArray[np.float32],
    dark: NDArray[np.bool_],
    near: int,
    far: int,
) -> float:
    """Full width at half height, in pixels, of the mean profile of the brightest rows, each laid on its own peak."""
    bright = np.flatnonzero(dark & (on > max(0.08, float(np.percentile(on[dark], 75)))))
    if len(bright) < 10:
        return 0.0
    reach = np.arange(-far, far + 1)
    profiles = laid[bright[:, None], np.clip(path[bright][:, None] + reach, 0, laid.shape[1] - 1)]
    core = slice(far - near // 2, far + near // 2 + 1)
    peak = profiles[:, core].argmax(axis=1) + far - near // 2
    rows = laid[bright[:, None], np.clip(path[bright][:, None] + (peak - far)[:, None] + reach, 0, laid.shape[1] - 1)]
    mean = np.median(rows, axis=0)
    ground = max(float(mean[: far - near + 1].mean()), float(mean[far + near :].mean()))
    height = float(mean[far]) - ground
    if height <= 1:
        return 0.0
    above = (mean - ground) / height > 0.5
    left, right = far, far
    while left > 0 and above[left - 1]:
        left -= 1
    while right < len(mean) - 1 and above[right + 1]:
        right += 1

    def cross(inner: int, outer: int) -> float:
        a, b = (mean[inner] - ground) / height - 0.5, (mean[outer] - ground) / height - 0.5
        return float(a / (a - b)) if a > b else 0.5

    extra = (cross(left, left - 1) if left else 0.5) + (cross(right, right + 1) if right < len(mean) - 1 else 0.5)
    return right - left + extra
