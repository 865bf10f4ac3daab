"""Elements of a picture that went their own way on another one: moved, larger or smaller."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, Points, fit_similarity

Floats = NDArray[np.float32]
_RATIO = 0.92
_MOST_KEYPOINTS, _MOST_ELEMENTS = 2000, 6
_SHRUNK = 0.7  # SIFT doubles a picture first: at 0.7 as much is found at half the cost
_TRIES = 600
_LEAST_CONTRAST = 0.015
_SIZES_APART, _TURNED = 0.7, float(np.cos(np.radians(30)))  # of logarithms; cosine of the angle between


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """``transform`` (a similarity) leads from places on a to places on b, both in one frame; ``points`` (n, 2) on a
    say so."""

    transform: Matrix
    points: Points

    @property
    def factor(self) -> float:
        """How much larger it is on b."""
        return float(np.hypot(self.transform[0, 0], self.transform[1, 0]))


def same_places(a: NDArray[np.uint8], b: NDArray[np.uint8], reach_px: float) -> tuple[Points, Points]:
    """Places (n, 2) of a and of b that look the same, no further than ``reach_px`` apart, neither turned nor rescaled
    much.

    ``a`` and ``b`` are (h, w) uint8 in one frame and alike in tone (SIFT; Lowe 2004).
    """
    size = (max(1, round(a.shape[1] * _SHRUNK)), max(1, round(a.shape[0] * _SHRUNK)))
    per_px = np.array([a.shape[1], a.shape[0]]) / size
    sift = cv2.SIFT_create(nfeatures=_MOST_KEYPOINTS, contrastThreshold=_LEAST_CONTRAST)  # type: ignore[attr-defined]
    found_a, have_a = sift.detectAndCompute(cv2.resize(a, size, interpolation=cv2.INTER_AREA), None)
    found_b, have_b = sift.detectAndCompute(cv2.resize(b, size, interpolation=cv2.INTER_AREA), None)
    if have_a is None or have_b is None:
        return np.empty((0, 2)), np.empty((0, 2))
    ka, kb = (np.array([(*k.pt, k.size, k.angle) for k in found], np.float32) for found in (found_a, found_b))
    for k in (ka, kb):
        k[:, :2] = (k[:, :2] + 0.5) * per_px - 0.5
    far = (ka[:, None, 0] - kb[:, 0]) ** 2 + (ka[:, None, 1] - kb[:, 1]) ** 2 > reach_px**2
    size_a, size_b = np.log(ka[:, 2]), np.log(kb[:, 2])
    sizes = np.abs(size_a[:, None] - size_b) > _SIZES_APART
    turn_a, turn_b = (np.column_stack([np.cos(t), np.sin(t)]) for t in (np.radians(k[:, 3]) for k in (ka, kb)))
    turns = turn_a @ turn_b.T < _TURNED
    have_a, have_b = (np.sqrt(x / np.maximum(x.sum(axis=1, keepdims=True), 1e-6)) for x in (have_a, have_b))
    unlike = 2 - 2 * have_a @ have_b.T
    unlike[far | sizes | turns] = 9
    i, j = _nearest(unlike)
    return ka[i, :2].astype(np.float64), kb[j, :2].astype(np.float64)


def moved_elements(pa: Points, pb: Points, miss_px: float, least: int) -> list[Moved]:
    """Groups of places that follow one similarity, none by standing still.

    A group has at least ``least`` places that miss by no more than ``miss_px``; it turns by no more than 20 degrees,
    and is neither doubled nor halved.
    """
    still = np.hypot(*(pa - pb).T) <= miss_px
    return _groups(pa[~still], pb[~still], miss_px, least)


def _nearest(unlike: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs that are each other's nearest, clearly nearer than the second (Lowe 2004). Eats ``unlike``."""
    if unlike.shape[1] < 2:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    best = unlike.argmin(axis=1)
    rows = np.arange(len(best))
    mutual = unlike.argmin(axis=0)[best] == rows
    first = unlike[rows, best]
    unlike[rows, best] = np.inf
    clear = (first < _RATIO**2 * unlike.min(axis=1)) & (first < 1.2) & mutual
    return rows[clear], best[clear]


def _groups(pa: Points, pb: Points, miss_px: float, least: int) -> list[Moved]:
    made: list[Moved] = []
    rng = np.random.default_rng(0)
    while len(pa) >= least and len(made) < _MOST_ELEMENTS:
        inside = _largest(pa, pb, miss_px, rng)
        if inside.sum() < least:
            break
        transform = fit_similarity(pa[inside], pb[inside])
        made.append(Moved(transform, pa[inside]))
        pa, pb = pa[~inside], pb[~inside]
    return made


def _largest(pa: Points, pb: Points, miss_px: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """The pairs that agree with the best similarity through two of them (RANSAC; Fischler & Bolles 1981)."""
    za, zb = pa @ (1, 1j), pb @ (1, 1j)
    n = len(za)
    one, two = rng.integers(n, size=_TRIES), rng.integers(n, size=_TRIES)
    apart = np.abs(za[one] - za[two])
    usable = apart > 12
    one, two = one[usable], two[usable]
    if not len(one):
        return np.zeros(n, bool)
    factor = (zb[one] - zb[two]) / (za[one] - za[two])
    sound = (np.abs(factor) > 0.5) & (np.abs(factor) < 2) & (np.abs(np.angle(factor)) < 0.35)
    one, factor = one[sound], factor[sound]
    if not len(one):
        return np.zeros(n, bool)
    miss = np.abs(factor[:, None] * (za - za[one][:, None]) + zb[one][:, None] - zb)
    counts = (miss < miss_px).sum(axis=1)
    inside: NDArray[np.bool_] = miss[int(counts.argmax())] < miss_px
    for _ in range(3):
        if inside.sum() < 3:
            break
        fitted = fit_similarity(pa[inside], pb[inside])
        inside = np.hypot(*(pa @ fitted[:2, :2].T + fitted[:2, 2] - pb).T) < miss_px
    return inside
