"""Even grounds between two straight cuts: strips, panels, margins."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.straight import Lines, level_lines, segments
from intake.imaging.strip_sides import Floats, Point, in_rows

Box = tuple[float, float, float, float]
_SOFT_PX = 0.8
_ALONG_PX = 2.0
_GAP = 7
_MOST = 200
_SAME = 0.8


@dataclass(frozen=True, slots=True)
class BandSizes:
    """What is looked for: of one tone within ``even_levels``, its cuts within ``most_turn_deg`` of level or upright;
    lengths and heights are shares of the picture's long side."""

    even_levels: float
    most_turn_deg: float
    least_long: float
    least_short: float
    most_short: float
    least_aspect: float


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """An even ground between two nearly level lines (slope, height at x = 0), from ``left`` to ``right``."""

    left: float
    right: float
    top: tuple[float, float]
    bottom: tuple[float, float]
    tone: Floats

    def corners(self) -> list[Point]:
        """Left top, right top, right bottom, left bottom."""
        (a, b), (c, d) = self.top, self.bottom
        return [
            (self.left, a * self.left + b),
            (self.right, a * self.right + b),
            (self.right, c * self.right + d),
            (self.left, c * self.left + d),
        ]


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """The bands one way: in ``plane`` (h, w, 3) they lie level; ``turned`` says that it is the picture transposed.
    ``lines`` are its level lines, ``across`` its upright ones, transposed."""

    plane: Floats
    soft: Floats
    turned: bool
    lines: Lines
    across: Lines
    bands: list[Band]


def both_ways(seen: NDArray[np.uint8], sizes: BandSizes) -> tuple[Bands, Bands]:
    """The level and the upright bands of an RGB picture."""
    found = segments(seen)
    level = level_lines(found, sizes.most_turn_deg)
    upright = level_lines(found[:, [1, 0, 3, 2]], sizes.most_turn_deg)
    made = []
    for turned in (False, True):
        plane = np.ascontiguousarray(seen.transpose(1, 0, 2) if turned else seen).astype(np.float32)
        lines, across = (upright, level) if turned else (level, upright)
        soft = np.asarray(cv2.GaussianBlur(plane, (0, 0), _SOFT_PX), np.float32)
        made.append(Bands(plane, soft, turned, lines, across, _bands(soft, lines, sizes)))
    return made[0], made[1]


def _bands(soft: Floats, lines: Lines, sizes: BandSizes) -> list[Band]:
    """What lies even between two of the lines, the longest first."""
    size = max(soft.shape[:2])
    if len(lines) < 2:
        return []
    slope = (lines[:, 3] - lines[:, 1]) / (lines[:, 2] - lines[:, 0])
    start = lines[:, 1] - slope * lines[:, 0]
    least = sizes.least_long * size
    left, right = np.maximum.outer(lines[:, 0], lines[:, 0]), np.minimum.outer(lines[:, 2], lines[:, 2])
    middle = (left + right) / 2
    high = slope[None] * middle + start[None] - slope[:, None] * middle - start[:, None]
    drift = np.abs(slope[None] - slope[:, None])
    longest = np.maximum.outer(lines[:, 2] - lines[:, 0], lines[:, 2] - lines[:, 0])
    paired = (right - left >= 0.6 * least) & (longest >= least)
    paired &= (high >= sizes.least_short * size) & (high <= sizes.most_short * size)
    paired &= (drift <= 0.02) | (drift * (right - left) <= 4)
    made = []
    for i, j in np.argwhere(paired)[: 20 * _MOST]:
        ends = (float(left[i, j]), float(right[i, j]))
        band = _even_between(soft, (slope[i], start[i]), (slope[j], start[j]), ends, sizes)
        if band is not None and band.right - band.left >= max(least, sizes.least_aspect * float(high[i, j])):
            made.append(band)
    kept: list[Band] = []
    for band in sorted(made, key=lambda b: b.left - b.right):
        if len(kept) < _MOST and all(shared(box_around(band), box_around(other)) < _SAME for other in kept):
            kept.append(band)
    return kept


def _even_between(
    soft: Floats, top: tuple[float, float], bottom: tuple[float, float], ends: tuple[float, float], sizes: BandSizes
) -> Band | None:
    """The ground between two lines that is of one tone along both of them, as far as it goes; None where there is none.

    ``ends`` are the left and right ends of what both lines bound.
    """
    wide = soft.shape[1]
    at = np.arange(0, wide, _ALONG_PX)
    rows = []
    for (slope, start), steps in ((top, (3.0, 4.0)), (bottom, (-4.0, -3.0))):
        line = ((0.0, start), (wide - 1.0, slope * (wide - 1) + start))
        rows.append(in_rows(soft, *line, np.array(steps), len(at)).mean(axis=1))
    per = (wide - 1) / max(1, len(at) - 1)
    held = slice(int(ends[0] / per), int(ends[1] / per) + 1)
    tone = np.median(np.concatenate([row[held] for row in rows]), axis=0)
    even = [np.abs(row - tone).max(axis=1) < sizes.even_levels for row in rows]
    if min(float(e[held].mean()) for e in even) < 0.8:
        return None
    closed = cv2.morphologyEx((even[0] & even[1]).astype(np.uint8)[None], cv2.MORPH_CLOSE, np.ones((1, _GAP), np.uint8))
    _, labels = cv2.connectedComponents(closed)
    runs = labels[0][held][labels[0][held] > 0]
    if len(runs) < 0.8 * len(labels[0][held]):
        return None
    run = np.flatnonzero(labels[0] == np.bincount(runs).argmax())
    return Band(float(run[0] * per), float(run[-1] * per), top, bottom, tone.astype(np.float32))


def box_around(band: Band) -> tuple[float, float, float, float]:
    """Left, top, width and height of the upright box around a band, in pixels of its plane."""
    corners = np.array(band.corners())
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    return float(left), float(top), float(right - left), float(bottom - top)


def shared(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> float:
    """What two boxes share of what either covers."""
    wide = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    high = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    both = max(0.0, wide) * max(0.0, high)
    return both / max(1e-6, one[2] * one[3] + other[2] * other[3] - both)
