"""Does one sheet of paper lie before two scans? What is finer than print, where print is flat, is the sheet's own."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, tell

Grey = NDArray[np.float32]

_LONG_PX = 1400
_TILES_PX = (48, 96)  # the smaller on small pictures
_TILES = 14
_FINE, _COARSE = 1.0, 4.0  # the band that is compared: softer than pixels, finer than the picture
_REACH_PX = 5  # how far a tile may lie from where the match puts it
_APART_PX = 11  # so far away nothing of a sheet's own goes together any more
_LEAST_FLAT = 0.15
_LEAST_TILES = 8


@dataclass(frozen=True, slots=True)
class Grain:
    """How far the fine structure of flat places goes together (a correlation), how far by chance (the same, moved
    apart), on how many tiles that rests, and where the print of all tiles puts pixels of the one on the other (3x3)."""

    together: float
    chance: float
    tiles: int
    onto_b: Matrix


def compare_grain(a: NDArray[np.uint8], b: NDArray[np.uint8], onto_b: Matrix) -> Grain | None:
    """Return how far the flat places of (h, w, 3) ``a`` and ``b`` are of one sheet; None where too little is flat.

    ``onto_b`` leads from pixels of ``a`` to those of ``b``. Tile by tile ``b`` is laid on ``a`` to half a pixel by what
    is printed; then only places count that the print leaves flat on both, so that it is not the print that agrees.
    """
    middle = (a.shape[1] / 2, a.shape[0] / 2)
    scale = min(1.0, _LONG_PX / max(a.shape[:2]), tell(onto_b, middle).scale)  # at the resolution of the coarser
    size = (round(a.shape[1] * scale), round(a.shape[0] * scale))
    first = _grey(cv2.resize(a, size, interpolation=cv2.INTER_AREA))
    back = np.diag([1 / scale, 1 / scale, 1.0])
    onto = onto_b @ back
    grown = tell(onto, (middle[0] * scale, middle[1] * scale)).scale
    soft = cv2.GaussianBlur(_grey(b), (0, 0), max(0.4, 0.5 * grown)) if grown > 1 else _grey(b)
    second = cv2.warpPerspective(soft, onto, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderValue=-1000)
    seen = second > -1
    found, apart, places = [], [], []
    side = min(max(max(size) // _TILES, _TILES_PX[0]), _TILES_PX[1]) & ~1  # phase correlation is half a pixel off else
    for top in range(_APART_PX * 2, size[1] - side - _APART_PX * 2, side):
        for left in range(_APART_PX * 2, size[0] - side - _APART_PX * 2, side):
            moved = _moved(first, second, seen, _around(top, left, side))
            if moved is None:
                continue
            places.append((left + side / 2, top + side / 2, *moved))
            told = _tile(first, second, moved, _around(top, left, side))
            if told is not None:
                found.append(told[0])
                apart.append(told[1])
    if not found or len(places) < _LEAST_TILES:
        return None
    nearer = onto @ _affine(np.array(places)) @ np.linalg.inv(back)
    return Grain(round(float(np.median(found)), 3), round(float(np.median(apart)), 3), len(found), nearer)


def _affine(places: NDArray[np.float64]) -> Matrix:
    """What moves (x, y) by (dx, dy) on most of (n, 4) ``places``: least squares, tiles far from it left out."""
    terms = np.column_stack([places[:, :2], np.ones(len(places))])
    keep = np.ones(len(places), bool)
    for _ in range(3):
        fit = np.linalg.lstsq(terms[keep], places[keep, 2:], rcond=None)[0]
        away = np.hypot(*(places[:, 2:] - terms @ fit).T)
        keep = away <= max(0.1, 2.5 * float(np.median(away)))
    return np.vstack([np.eye(3)[:2] + fit.T, [0, 0, 1]])


def _grey(image: NDArray[np.uint8]) -> Grey:
    return np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), np.float32)


def _band(grey: Grey) -> Grey:
    return np.asarray(cv2.GaussianBlur(grey, (0, 0), _FINE) - cv2.GaussianBlur(grey, (0, 0), _COARSE), np.float32)


def _around(top: int, left: int, side: int) -> tuple[slice, slice]:
    pad = _APART_PX * 2
    return np.s_[top - pad : top + side + pad, left - pad : left + side + pad]


def _moved(first: Grey, second: Grey, seen: NDArray[np.bool_], at: tuple[slice, slice]) -> tuple[float, float] | None:
    """By how many pixels what is printed on a tile lies further right and down on ``second``."""
    if not seen[at].all():
        return None
    a, b = np.ascontiguousarray(first[at]), np.ascontiguousarray(second[at])
    (dx, dy), _ = cv2.phaseCorrelate(a, b, cv2.createHanningWindow(a.shape[::-1], cv2.CV_32F))
    return None if max(abs(dx), abs(dy)) > _REACH_PX else (dx, dy)


def _tile(first: Grey, second: Grey, moved: tuple[float, float], at: tuple[slice, slice]) -> tuple[float, float] | None:
    pad = _APART_PX * 2
    a, b = first[at], second[at]
    shift = np.array([[1, 0, moved[0]], [0, 1, moved[1]]], np.float64)
    b = np.asarray(cv2.warpAffine(b, shift, b.shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP), np.float32)
    one, other = _band(a), _band(b)
    rough = np.maximum(cv2.GaussianBlur(np.abs(one), (0, 0), 4.0), cv2.GaussianBlur(np.abs(other), (0, 0), 4.0))
    inner = np.s_[pad:-pad, pad:-pad]
    flat = rough[inner] < max(0.6, float(np.percentile(rough[inner], 30)))
    flat &= rough[inner] < 3.0
    if flat.mean() < _LEAST_FLAT:
        return None
    beside = other[pad + _APART_PX : -pad + _APART_PX, pad:-pad]
    return _goes(one[inner], other[inner], flat), _goes(one[inner], beside, flat)


def _goes(one: Grey, other: Grey, flat: NDArray[np.bool_]) -> float:
    x, y = one[flat] - one[flat].mean(), other[flat] - other[flat].mean()
    x, y = np.clip(x, -4, 4), np.clip(y, -4, 4)
    return float((x * y).sum() / math.sqrt(float((x * x).sum() * (y * y).sum()) + 1e-6))
