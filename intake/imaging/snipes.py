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
from intake.imaging.bands import Band, Bands, BandSizes, both_ways, box_around, shared
from intake.imaging.straight import Lines, turns
from intake.imaging.strip_sides import Floats, Sided, ends_of, shade_beside

_AXIS = 0.4  # of the long side: so long a line is of the sheet, not of a strip
_OWN_PX = 6.0
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
        if not any(shared(snipe.box, other.box) > _APART for other in found):
            found.append(snipe)
    return found


def candidates(seen: NDArray[np.uint8], rules: SnipeRules) -> list[tuple[NDArray[np.float64], dict[str, float]]]:
    """Even grounds between two straight lines, level or upright: their four corners (4, 2) and what was measured of
    each (the keys of ``rules.weights``)."""
    lengths = rules.least_long, rules.least_short, rules.most_short
    sizes = BandSizes(rules.even_levels, rules.most_turn_deg, *lengths, rules.least_aspect)
    made = []
    for way in both_ways(seen, sizes):
        for band in way.bands:
            measured = _measured(way, band, rules)
            if measured is not None:
                corners = np.array(band.corners())
                made.append((corners[:, ::-1] if way.turned else corners, measured))
    return made


# ---- what is measured of it -----------------------------------------------------------------------------------------


def _measured(way: Bands, band: Band, rules: SnipeRules) -> dict[str, float] | None:
    soft = way.soft
    a, b, c, d = band.corners()
    sides = [ends_of(soft, p, q, band.tone, rules.even_levels) for p, q in ((b, a), (a, d), (d, c), (c, b))]
    top, left, bottom, right = sides
    if top is None or bottom is None or (left is None and right is None):
        return None
    turn = (top.turn * top.straight + bottom.turn * bottom.straight) / max(1e-6, top.straight + bottom.straight)
    off = _off_axis(turn, band, way.lines, way.across, max(soft.shape[:2]))
    beside = [shade_beside(way.plane, side) if side else (0.0, 0.0) for side in sides]
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


def _off_axis(turn: float, band: Band, lines: Lines, across: Lines, size: int) -> float:
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


def _filled(soft: Floats, band: Band, rules: SnipeRules) -> float:
    """The share of the ground that is of its tone: the rest is lettering."""
    left, top, wide, high = box_around(band)
    inside = soft[max(0, int(top) + 4) : int(top + high) - 3, max(0, int(left) + 4) : int(left + wide) - 3]
    return float((np.abs(inside - band.tone).max(axis=2) < rules.even_levels).mean()) if inside.size else 0.0


def _words(measured: dict[str, float]) -> str:
    said = [
        "lies askew to the sheet" if measured["askew"] > 0.5 else "",
        "a shadow beside two of its sides" if measured["one_sided"] > 0.6 and measured["fading"] > 4 else "",
    ]
    return "an even ground between straight cuts, " + (", ".join(s for s in said if s) or "with few signs of paste")
