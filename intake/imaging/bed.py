"""What a piece lies on: the bed of a scanner, a black cloth, a lamp; and which pixels are not it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.levels import largest

_RING_SHARE = 0.004
_FIRST_LEVELS = 32.0
_LEAST_LEVELS = 4.0
_ROUNDS = 4
_SAMPLES = 5000
_GRID = 32
_DARKEST_SHADOW = 0.5
_SHADOW_HUE = 2.5
# from the 75th to the 95th percentile of what is normally distributed: a quarter of foreign pixels does no harm
_GAUSS = 1.7


@dataclass(frozen=True, slots=True)
class Bed:
    """An even ground round the picture, lighter here and darker there at most as a second-order surface.

    ``colour`` is its median (sRGB, 0-255), ``surface`` (6, 3) its levels over 1, x, y, xx, xy, yy with x and y from -1
    to 1,
    ``spread`` how far its levels wander from that, ``share`` how much of the outermost band is bed.
    """

    colour: tuple[float, float, float]
    surface: NDArray[np.float64]
    spread: float
    share: float

    @property
    def level(self) -> float:
        """Mean level, 0-255."""
        return sum(self.colour) / 3

    @property
    def tint(self) -> float:
        """Largest channel less the smallest: 0 is neutral."""
        return max(self.colour) - min(self.colour)


def find_bed(image: NDArray[np.uint8], least_share: float, difference: float, most_tint: float = 255.0) -> Bed | None:
    """Return the bed of an (h, w, 3) image, or None.

    At least ``least_share`` of the outermost band must be even within ``difference`` levels and of no more than
    ``most_tint`` levels between its channels. Of two grounds in the band the commoner is tried first.
    """
    place, band = _ring(image)
    terms, level = _terms(place), band.mean(axis=1)
    counts = np.bincount(level.astype(np.intp), minlength=256).astype(np.float32)
    counts = np.ravel(cv2.GaussianBlur(counts[None], (0, 0), 4.0))
    for _ in range(2):
        peak = int(np.argmax(counts))
        bed = _fit(terms, band, np.abs(level - peak) <= _FIRST_LEVELS, least_share, difference)
        if bed is not None and bed.tint <= most_tint:
            return bed
        counts[max(0, peak - round(_FIRST_LEVELS)) : peak + round(_FIRST_LEVELS)] = 0
    return None


def _fit(
    terms: NDArray[np.float64],
    band: NDArray[np.float64],
    inside: NDArray[np.bool_],
    least_share: float,
    difference: float,
) -> Bed | None:
    """A second-order surface through the pixels of one ground, those that do not lie on it left out round by round."""
    away: NDArray[np.float64] = np.full(len(band), np.inf)
    surface: NDArray[np.float64] = np.zeros((6, 3))
    for _ in range(_ROUNDS):
        if int(inside.sum()) < max(24, least_share * 0.5 * len(band)):
            return None
        surface = np.asarray(np.linalg.lstsq(terms[inside], band[inside], rcond=None)[0], np.float64)
        away = np.abs(band - terms @ surface).max(axis=1)
        inside = away <= difference
    share = float(inside.mean())
    if share < least_share:
        return None
    red, green, blue = (float(c) for c in np.median(band[inside], axis=0))
    return Bed((red, green, blue), surface, _GAUSS * float(np.percentile(away[inside], 75)), share)


def not_bed(image: NDArray[np.uint8], bed: Bed, difference: float, close_share: float = 0.004) -> NDArray[np.uint8]:
    """Return 255 where (h, w, 3) ``image`` is another colour than ``bed`` in any channel, 0 elsewhere.

    Gaps up to ``close_share`` of the long edge are closed. An even bed lets paper of nearly its own colour be seen: the
    limit is ``difference`` levels or less, by its spread.
    """
    limit = min(max(_LEAST_LEVELS, 2.5 * bed.spread), max(difference, 1.6 * bed.spread))
    smooth = cv2.GaussianBlur(image, (0, 0), 1.0)
    mask = (largest(cv2.absdiff(smooth, _ground(bed, image.shape[:2]))) > limit).astype(np.uint8) * 255
    size = round(close_share * max(image.shape[:2])) | 1
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8)), np.uint8)


def shadows(image: NDArray[np.uint8], bed: Bed) -> NDArray[np.bool_]:
    """Tell where (h, w, 3) ``image`` is of the bed's own hue but darker by up to half, as bed in a shadow is."""
    ground = _ground(bed, image.shape[:2]).astype(np.float32)
    smooth = cv2.GaussianBlur(image, (0, 0), 1.0).astype(np.float32)
    light = (smooth * ground).sum(axis=2) / np.maximum((ground * ground).sum(axis=2), 1.0)
    away = np.abs(smooth - light[..., None] * ground).max(axis=2)
    return np.asarray((light > _DARKEST_SHADOW) & (light < 1) & (away < _SHADOW_HUE), bool)


def _ring(image: NDArray[np.uint8]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places (n, 2) from -1 to 1 and colours (n, 3) of the outermost band, thinned out."""
    height, width = image.shape[:2]
    depth = min(max(2, round(_RING_SHARE * max(height, width))), min(height, width))
    mask = np.ones((height, width), bool)
    mask[depth : height - depth, depth : width - depth] = False
    y, x = np.nonzero(mask)
    step = max(1, len(x) // _SAMPLES)
    y, x = y[::step], x[::step]
    return np.stack([2 * x / width - 1, 2 * y / height - 1], axis=1), image[y, x].astype(np.float64)


def _terms(place: NDArray[np.float64]) -> NDArray[np.float64]:
    x, y = place[:, 0], place[:, 1]
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)


def _ground(bed: Bed, shape: tuple[int, ...]) -> NDArray[np.uint8]:
    """The bed as it would look without the piece, (h, w, 3)."""
    y, x = np.mgrid[-1 : 1 : _GRID * 1j, -1 : 1 : _GRID * 1j]
    seen = _terms(np.stack([x.ravel(), y.ravel()], axis=1)) @ bed.surface
    near = np.clip(seen, np.array(bed.colour) - _FIRST_LEVELS, np.array(bed.colour) + _FIRST_LEVELS)
    small = np.clip(near, 0, 255).reshape(_GRID, _GRID, 3).astype(np.float32)
    ground = cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.round(ground), np.uint8)
