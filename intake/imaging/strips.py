"""The margins of a part as long strips, turned to lie flat and with their blank stretches left out.

Small print stands along the margins. A strip is looked at larger than the whole, so that the detector sees it, and
blank ground is cut away first, as the detector's cost follows the pixels.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box

Quad = NDArray[np.float32]
Picture = NDArray[np.uint8]
_STEP_LEVELS = 10  # a change of grey between neighbours that may be the edge of a letter
_PAD_PX = 24
_GAP_PX = 32


@dataclass(frozen=True, slots=True)
class Strip:
    """``picture``: the packed strip, (h, w, 3). ``runs``: (from, to, at) along the strip and where that stretch lies.

    ``inner``: the row (unpacked) of the edge towards the middle of the part, where a line may be cut; ``row`` the first
    row kept. ``scale``: strip pixels per stored pixel. Side strips were turned a quarter clockwise.
    """

    picture: Picture
    box: Box
    turned: bool
    scale: float
    row: int
    inner: int
    runs: tuple[tuple[int, int, int], ...]

    def to_stored(self, quad: Quad) -> Quad:
        """Carry a quad of the packed picture to stored pixels."""
        x = quad[:, 0] / self._shrunk
        y = quad[:, 1] / self._shrunk + self.row
        start, _, at = max(self.runs, key=lambda r: (r[2] <= float(x.mean()), r[2]))
        x = (x - at + start) / self.scale
        y = y / self.scale
        if self.turned:
            x, y = y, self.box.height - x
        return np.stack([x + self.box.left, y + self.box.top], axis=1).astype(np.float32)

    def is_cut(self, quad: Quad) -> bool:
        """Tell whether the quad touches the strip's inner edge, so that its line may go on beyond."""
        y = quad[:, 1] / self._shrunk + self.row
        return bool(abs(y - self.inner).min() < 6 or (y.min() < self.inner < y.max()))

    @property
    def _shrunk(self) -> float:
        return self.picture.shape[1] / max(1, self.runs[-1][2] + self.runs[-1][1] - self.runs[-1][0])


def margin_strips(
    box: Box,
    crop: Callable[[Box, int | None], Picture],
    depth_px: int,
    scale: float,
    most_each: float,
    most_in_all: float,
) -> list[Strip]:
    """Return the strips along all four margins, ``depth_px`` stored pixels deep, at ``scale``; blank ones are left out.

    Packed pictures hold at most ``most_each`` pixels each and ``most_in_all`` together: memory and time follow them.
    """
    left, top, width, height = box
    plans = [
        (Box(left, top + height - depth_px, width, depth_px), False, True),
        (Box(left, top, width, depth_px), False, False),
        (Box(left, top, depth_px, height), True, False),
        (Box(left + width - depth_px, top, depth_px, height), True, True),
    ]
    packed = [s for s in (_strip(b, crop, scale, turned, first) for b, turned, first in plans) if s is not None]
    packed = [_within(s, most_each) for s in packed]
    total = sum(_pixels(s) for s in packed)
    return [_within(s, _pixels(s) * most_in_all / total) for s in packed]


def _pixels(strip: Strip) -> int:
    return strip.picture.shape[0] * strip.picture.shape[1]


def _within(strip: Strip, most: float) -> Strip:
    shrink = (most / _pixels(strip)) ** 0.5
    if shrink >= 1:
        return strip
    return replace(strip, picture=cv2.resize(strip.picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA))


def _strip(
    box: Box, crop: Callable[[Box, int | None], Picture], scale: float, turned: bool, inner_first: bool
) -> Strip | None:
    picture = crop(box, max(16, round(max(box.width, box.height) * scale)) if scale < 1 else None)
    size = (max(2, round(box.width * scale)), max(2, round(box.height * scale)))
    if (picture.shape[1], picture.shape[0]) != size:
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA)
    if turned:
        picture = np.ascontiguousarray(np.rot90(picture, -1))  # stored top goes right, the left side lies on top
    steps = np.abs(np.diff(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.int16), axis=1)) > _STEP_LEVELS
    rows = np.flatnonzero(steps.sum(axis=1) >= 2)
    columns = np.flatnonzero(steps.sum(axis=0) >= 2)
    if len(rows) == 0 or len(columns) == 0:
        return None
    first, last = max(0, int(rows[0]) - _PAD_PX), min(picture.shape[0], int(rows[-1]) + _PAD_PX)
    runs, at = [], 0
    pieces = []
    for start, end in _stretches(columns, picture.shape[1]):
        runs.append((start, end, at))
        pieces.append(picture[first:last, start:end])
        at += end - start
    inner = 0 if inner_first else picture.shape[0]
    return Strip(np.ascontiguousarray(np.hstack(pieces)), box, turned, scale, first, inner, tuple(runs))


def _stretches(columns: NDArray[np.intp], width: int) -> list[tuple[int, int]]:
    """Join busy columns that lie near each other, with ground on both sides."""
    breaks = np.flatnonzero(np.diff(columns) > 2 * (_PAD_PX + _GAP_PX))
    starts, ends = columns[np.r_[0, breaks + 1]], columns[np.r_[breaks, len(columns) - 1]]
    pad = _PAD_PX + _GAP_PX // 2
    return [(max(0, int(a) - pad), min(width, int(b) + pad)) for a, b in zip(starts, ends, strict=True)]
