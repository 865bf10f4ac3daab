"""Strips pasted on a single sheet (snipes), told without a second picture: an even ground between two straight cuts
that lies askew to the sheet's own lines, with a shadow beside two sides that meet and none beside the others.

A printed panel has straight sides and even ground too; it is square to the sheet, or slanted for good, and what lies
beside it is alike on all sides. No sign decides by itself; the sum is a place to look at.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.snipe import SnipeRules
from intake.imaging.straight import Lines, level_lines, segments, turns
from intake.imaging.strip_sides import Floats, Point, Sided, ends_of, in_rows, shade_beside

_SOFT_PX = 0.8
_ALONG_PX = 2.0
_GAP = 7
_AXIS = 0.4  # of the long side: so long a line is of the sheet, not of a strip
_OWN_PX = 6.0
_MOST = 200
_SAME = 0.8
_APART = 0.2
_SURE_TURN, _OWN_TURN = 0.38, 0.08  # degrees: what no print lies off by; what a sheet's own lines lie off by
_SLANT = 1.8  # degrees: what hands paste on is straighter


@dataclass(frozen=True, slots=True)
class Snipe:
    """A place that may be a strip pasted on: left, top, width, height in pixels of the picture, and how sure that
    is."""

    box: tuple[float, float, float, float]
    certainty: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class _Band:
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


def find_snipes(picture: NDArray[np.uint8], rules: SnipeRules) -> list[Snipe]:
    """Places on a printed sheet that may be pasted strips, the surest first.

    ``picture`` is (h, w, 3) RGB; it is looked at no larger than ``rules.look_px``.
    """
    scale = min(1.0, rules.look_px / max(picture.shape[:2]))
    seen = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    made = []
    for corners, measured in candidates(np.asarray(seen, np.uint8), rules):
        odds = rules.start + sum(rules.weights[name] * value for name, value in measured.items())
        sure = 1 / (1 + math.exp(-max(-30.0, min(30.0, odds))))
        if sure >= rules.shown:
            (left, top), (right, bottom) = corners.min(axis=0) / scale, corners.max(axis=0) / scale
            box = (float(left), float(top), float(right - left), float(bottom - top))
            made.append(Snipe(box, round(sure, 4), _words(measured)))
    found: list[Snipe] = []
    for snipe in sorted(made, key=lambda s: -s.certainty):
        if not any(_shared(snipe.box, other.box) > _APART for other in found):
            found.append(snipe)
    return found


def candidates(seen: NDArray[np.uint8], rules: SnipeRules) -> list[tuple[NDArray[np.float64], dict[str, float]]]:
    """Even grounds between two straight lines, level or upright: their four corners (4, 2) and what was measured of
    each (the keys of ``rules.weights``)."""
    found = segments(seen)
    level = level_lines(found, rules.most_turn_deg)
    upright = level_lines(found[:, [1, 0, 3, 2]], rules.most_turn_deg)
    sharp = seen.astype(np.float32)
    made = []
    for lines, across, plane, turned in (
        (level, upright, sharp, False),
        (upright, level, np.ascontiguousarray(sharp.transpose(1, 0, 2)), True),
    ):
        soft = cv2.GaussianBlur(plane, (0, 0), _SOFT_PX)
        for band in _bands(soft, lines, rules):
            measured = _measured(soft, plane, band, lines, across, rules)
            if measured is not None:
                corners = np.array(band.corners())
                made.append((corners[:, ::-1] if turned else corners, measured))
    return made


# ---- where a strip may lie ------------------------------------------------------------------------------------------


def _bands(soft: Floats, lines: Lines, rules: SnipeRules) -> list[_Band]:
    """What lies even between two of the lines, the longest first."""
    size = max(soft.shape[:2])
    if len(lines) < 2:
        return []
    slope = (lines[:, 3] - lines[:, 1]) / (lines[:, 2] - lines[:, 0])
    start = lines[:, 1] - slope * lines[:, 0]
    least = rules.least_long * size
    left, right = np.maximum.outer(lines[:, 0], lines[:, 0]), np.minimum.outer(lines[:, 2], lines[:, 2])
    middle = (left + right) / 2
    high = slope[None] * middle + start[None] - slope[:, None] * middle - start[:, None]
    drift = np.abs(slope[None] - slope[:, None])
    longest = np.maximum.outer(lines[:, 2] - lines[:, 0], lines[:, 2] - lines[:, 0])
    paired = (right - left >= 0.6 * least) & (longest >= least)
    paired &= (high >= rules.least_short * size) & (high <= rules.most_short * size)
    paired &= (drift <= 0.02) | (drift * (right - left) <= 4)
    made = []
    for i, j in np.argwhere(paired)[: 20 * _MOST]:
        ends = (float(left[i, j]), float(right[i, j]))
        band = _even_between(soft, (slope[i], start[i]), (slope[j], start[j]), ends, rules)
        if band is not None and band.right - band.left >= max(least, rules.least_aspect * float(high[i, j])):
            made.append(band)
    kept: list[_Band] = []
    for band in sorted(made, key=lambda b: b.left - b.right):
        if len(kept) < _MOST and all(_shared(_box(band), _box(other)) < _SAME for other in kept):
            kept.append(band)
    return kept


def _even_between(
    soft: Floats, top: tuple[float, float], bottom: tuple[float, float], ends: tuple[float, float], rules: SnipeRules
) -> _Band | None:
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
    even = [np.abs(row - tone).max(axis=1) < rules.even_levels for row in rows]
    if min(float(e[held].mean()) for e in even) < 0.8:
        return None
    closed = cv2.morphologyEx((even[0] & even[1]).astype(np.uint8)[None], cv2.MORPH_CLOSE, np.ones((1, _GAP), np.uint8))
    _, labels = cv2.connectedComponents(closed)
    runs = labels[0][held][labels[0][held] > 0]
    if len(runs) < 0.8 * len(labels[0][held]):
        return None
    run = np.flatnonzero(labels[0] == np.bincount(runs).argmax())
    return _Band(float(run[0] * per), float(run[-1] * per), top, bottom, tone.astype(np.float32))


# ---- what is measured of it -----------------------------------------------------------------------------------------


def _measured(
    soft: Floats, sharp: Floats, band: _Band, lines: Lines, across: Lines, rules: SnipeRules
) -> dict[str, float] | None:
    a, b, c, d = band.corners()
    sides = [ends_of(soft, p, q, band.tone, rules.even_levels) for p, q in ((b, a), (a, d), (d, c), (c, b))]
    top, left, bottom, right = sides
    if top is None or bottom is None or (left is None and right is None):
        return None
    turn = (top.turn * top.straight + bottom.turn * bottom.straight) / max(1e-6, top.straight + bottom.straight)
    off = _off_axis(turn, band, lines, across, max(soft.shape[:2]))
    beside = [shade_beside(sharp, side) if side else (0.0, 0.0) for side in sides]
    shares, fades = np.array([s for s, _ in beside]), np.array([f for _, f in beside])
    meeting = max(shares[k] + shares[k - 1] for k in range(4))
    return {
        "straight_long": min(top.straight, bottom.straight),
        "straight_short": min(_straight(left), _straight(right)),
        "skewed": min(abs(top.turn - bottom.turn), 1.0),
        "filled": _filled(soft, band, rules),
        "askew": float(np.clip((off - _OWN_TURN) / (_SURE_TURN - _OWN_TURN), 0, 1)),
        "slanted": max(0.0, min(off, 3.0) - _SLANT),
        "one_sided": float(2 * meeting - shares.sum()),
        "fading": float(max(fades[k] + fades[k - 1] for k in range(4))),
    }


def _straight(side: Sided | None) -> float:
    return side.straight if side else 0.0


def _off_axis(turn: float, band: _Band, lines: Lines, across: Lines, size: int) -> float:
    """Degrees by which a band lies off the nearest of the sheet's own long lines, its own sides left out; off level
    where there is none."""
    middle = (band.left + band.right) / 2
    at = lines[:, 1] + (lines[:, 3] - lines[:, 1]) * (middle - lines[:, 0]) / (lines[:, 2] - lines[:, 0])
    own = np.zeros(len(lines), bool)
    for slope, start in (band.top, band.bottom):
        own |= np.abs(at - slope * middle - start) < _OWN_PX
    mine = lines[~own & (lines[:, 2] - lines[:, 0] > _AXIS * size)]
    others = across[across[:, 2] - across[:, 0] > _AXIS * size]
    axes = np.concatenate([turns(mine), -turns(others)])
    return float(np.abs(axes - turn).min()) if len(axes) else abs(turn)


def _filled(soft: Floats, band: _Band, rules: SnipeRules) -> float:
    """The share of the ground that is of its tone: the rest is lettering."""
    left, top, wide, high = _box(band)
    inside = soft[max(0, int(top) + 4) : int(top + high) - 3, max(0, int(left) + 4) : int(left + wide) - 3]
    return float((np.abs(inside - band.tone).max(axis=2) < rules.even_levels).mean()) if inside.size else 0.0


def _box(band: _Band) -> tuple[float, float, float, float]:
    corners = np.array(band.corners())
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    return float(left), float(top), float(right - left), float(bottom - top)


def _shared(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> float:
    """What two boxes share of what either covers."""
    wide = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    high = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    both = max(0.0, wide) * max(0.0, high)
    return both / max(1e-6, one[2] * one[3] + other[2] * other[3] - both)


def _words(measured: dict[str, float]) -> str:
    said = [
        "lies askew to the sheet" if measured["askew"] > 0.5 else "",
        "a shadow beside two of its sides" if measured["one_sided"] > 0.6 and measured["fading"] > 4 else "",
    ]
    return "an even ground between straight cuts, " + (", ".join(s for s in said if s) or "with few signs of paste")
