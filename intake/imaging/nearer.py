"""A place of a design on several pictures of it: how alike it is drawn, and which of two drawings a third is nearer to.

Pictures are grey, (h, w) float32, laid in one frame and cut with the same margin all round; the middle is the place.
Tones may run either way: film, print and another exposure all show one drawing.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.agreement import directions

Plane = NDArray[np.float32]

_SOFT_PX = 1.0
_EVEN_SHARE = 0.5
_LEAST_LEVELS = 4.0
_LEAST_STRENGTH = 0.3
_STILL_PX = 2.0
_NOISE = 2.0
_FITS = 5
_ROUNDS = 10


@dataclass(frozen=True, slots=True)
class Alike:
    """How alike a place is drawn on two pictures, 0 to 1, and whether light and dark are exchanged between them."""

    share: float
    flipped: bool


@dataclass(frozen=True, slots=True)
class Nearer:
    """Where a picture lies between two others: 1 is drawn as the first, 0 as the second.

    ``differ`` is how unlike those two are (root mean square of what differs over that of the first), ``told`` how much
    of the picture the two explain together (R squared).
    """

    share: float
    differ: float
    told: float


def settled(reference: Plane, other: Plane, margin_px: int, reach_px: int) -> Plane:
    """``other`` shifted by at most ``reach_px`` to where its edges run as those of ``reference`` around the place.

    Both are (h, w) with ``margin_px`` round the place; returned is the place alone, (h - 2 margin, w - 2 margin).
    """
    reach = min(reach_px, margin_px)
    h, w = reference.shape
    inner = _directions(reference)[reach : h - reach, reach : w - reach]
    response = cv2.matchTemplate(_directions(other), np.ascontiguousarray(inner), cv2.TM_CCORR_NORMED)
    _, _, _, (x, y) = cv2.minMaxLoc(np.nan_to_num(response))
    keep = margin_px - reach
    return other[y + keep : y + h - 2 * reach - keep, x + keep : x + w - 2 * reach - keep]


def middle(picture: Plane, margin_px: int) -> Plane:
    """The place alone."""
    h, w = picture.shape
    return picture[margin_px : h - margin_px, margin_px : w - margin_px]


def alike(one: Plane, other: Plane) -> Alike:
    """Of one place, settled: the mean of how far tones go together (either way round) and how far edges run alike."""
    a, b = _evened(one), _evened(other)
    tone = float(np.mean(a * b) / max(1e-6, float(a.std() * b.std())))
    da, db = _directions(one), _directions(other)
    edges = float((da * db).sum() / max(1e-6, float(np.sqrt((da * da).sum() * (db * db).sum()))))
    return Alike(float(np.clip((abs(tone) + max(0.0, edges)) / 2, 0, 1)), tone < 0)


def nearer(first: Plane, second: Plane, picture: Plane) -> Nearer:
    """Of one place, settled: where ``picture`` lies between the two, told where these two differ beyond their noise.

    Tones are made those of the first by a curve in which places that differ have little say.
    """
    one = _still(first)
    two = _as(one, _still(second))
    third = _as(np.asarray((one + two) / 2, np.float32), _still(picture))
    a, b, m = _flat(one), _flat(two), _flat(third)
    both, apart = (a + b) / 2, a - b
    noise = _NOISE * float(np.median(np.abs(apart))) / 0.6745
    apart = np.sign(apart) * np.maximum(np.abs(apart) - noise, 0)
    energy = float((apart * apart).sum())
    differ = float(np.sqrt(energy / max(1e-6, float((a * a).sum()))))
    lean = float((apart * (m - both)).sum()) / (energy + 1e-6)
    left = m - both - lean * apart
    told = 1 - float((left * left).sum()) / max(1e-6, float((m * m).sum()))
    return Nearer(0.5 + float(np.clip(lean, -1.5, 1.5)), differ, told)


def _still(plane: Plane) -> Plane:
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), _STILL_PX), np.float32)


def _flat(plane: Plane) -> Plane:
    return np.asarray(plane - cv2.GaussianBlur(plane, (0, 0), max(3.0, _EVEN_SHARE * max(plane.shape))), np.float32)


def _as(target: Plane, source: Plane) -> Plane:
    """``source`` with the tones of ``target``, drawn up to it."""
    return _toned(_drawn_up(target, _toned(source, target), source), target)


def _drawn_up(target: Plane, toned: Plane, source: Plane) -> Plane:
    """``source`` turned, stretched and shifted by a pixel or so, as its tones made like the target's lie best on it
    (enhanced correlation; Evangelidis and Psarakis 2008); as it is where that finds no way.
    """
    warp = np.eye(2, 3, dtype=np.float32)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, _ROUNDS, 1e-4)
    try:
        _, warp = cv2.findTransformECC(target, toned, warp, cv2.MOTION_AFFINE, stop)
    except cv2.error:
        return source
    size = (source.shape[1], source.shape[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(source, warp, size, flags=flags, borderMode=cv2.BORDER_REFLECT), np.float32)


def _toned(source: Plane, target: Plane) -> Plane:
    """``source`` with the tones of ``target``: one parabola that most places follow (least squares, reweighted by
    Tukey's weights), so that a tone which only a detail has is led on from the others'.
    """
    u = ((source - source.mean()) / (source.std() + _LEAST_LEVELS)).ravel().astype(np.float64)
    v = target.ravel().astype(np.float64)
    design = np.stack([np.ones_like(u), u, u * u], axis=1)
    weights, solved = np.ones_like(u), np.zeros(3)
    for _ in range(_FITS):
        weighted = design * weights[:, None]
        solved = np.linalg.solve(weighted.T @ design + 1e-6 * len(u) * np.diag([0, 1, 10.0]), weighted.T @ v)
        miss = np.abs(design @ solved - v)
        reach = 4.7 * max(1.4826 * float(np.median(miss)), 1.0)
        weights = np.clip(1 - (miss / reach) ** 2, 0, 1) ** 2 + 1e-6
    return np.asarray((design @ solved).reshape(source.shape), np.float32)


def _evened(plane: Plane) -> Plane:
    """Mean 0 and one contrast all over, as light and paper leave it uneven."""
    soft = cv2.GaussianBlur(plane, (0, 0), _SOFT_PX)
    wide = max(3.0, _EVEN_SHARE * max(plane.shape))
    flat = soft - cv2.GaussianBlur(soft, (0, 0), wide)
    return np.asarray((flat - flat.mean()) / (flat.std() + _LEAST_LEVELS), np.float32)


def _directions(plane: Plane) -> NDArray[np.float32]:
    """(h, w, 2): how strongly and which way edges run, in double angles: the same whichever side is the lighter."""
    return np.dstack(directions(cv2.GaussianBlur(plane, (0, 0), _SOFT_PX), _LEAST_STRENGTH))
