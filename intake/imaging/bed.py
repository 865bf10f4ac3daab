"""What a piece lies on: the bed of a scanner, a black cloth, a lamp; and which pixels are not it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.levels import largest

RING_SHARE = 0.012
_LEAST_LEVELS = 4.0


@dataclass(frozen=True, slots=True)
class Bed:
    """One even colour (sRGB, 0-255) that runs round the picture. ``spread`` is how far its own levels wander."""

    colour: tuple[float, float, float]
    spread: float
    share: float

    @property
    def level(self) -> float:
        """Mean level, 0-255."""
        return sum(self.colour) / 3


def ring(image: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the pixels, (n, 3), of the outermost band of an (h, w, 3) image."""
    height, width = image.shape[:2]
    depth = max(2, round(RING_SHARE * max(height, width)))
    if min(height, width) <= 2 * depth:
        return image.reshape(-1, 3).astype(np.float32)
    sides = (image[:depth], image[-depth:], image[depth:-depth, :depth], image[depth:-depth, -depth:])
    return np.concatenate([side.reshape(-1, 3) for side in sides]).astype(np.float32)


def find_bed(image: NDArray[np.uint8], least_share: float, difference: float) -> Bed | None:
    """Return the bed, or None when less than ``least_share`` of the outer band is of one colour within ``difference`` levels."""
    band = ring(image)
    counts = np.bincount(band.mean(axis=1).astype(np.intp), minlength=256).astype(np.float32)
    peak = int(np.argmax(cv2.GaussianBlur(counts[None], (0, 0), 3.0)[0]))
    near = band[np.abs(band.mean(axis=1) - peak) <= difference]
    if len(near) == 0:
        return None
    colour = np.median(near, axis=0)
    away = np.abs(band - colour).max(axis=1)
    share = float((away <= difference).mean())
    if share < least_share:
        return None
    spread = float(np.percentile(away[away <= difference], 95))
    return Bed((float(colour[0]), float(colour[1]), float(colour[2])), spread, share)


def not_bed(image: NDArray[np.uint8], bed: Bed, difference: float) -> NDArray[np.uint8]:
    """Return 255 where (h, w, 3) ``image`` is another colour than ``bed`` in any channel, 0 elsewhere; small gaps closed.

    An even bed lets paper of nearly its own colour be seen: the limit is ``difference`` levels or less, by its spread.
    """
    limit = min(max(_LEAST_LEVELS, 2.5 * bed.spread), max(difference, 1.6 * bed.spread))
    smooth = cv2.GaussianBlur(image, (0, 0), 1.0)
    away = cv2.absdiff(smooth, np.full_like(smooth, np.round(bed.colour).astype(np.uint8)))
    mask = (largest(away) > limit).astype(np.uint8) * 255
    size = max(3, round(0.004 * max(image.shape[:2])) | 1)
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8)), np.uint8)
