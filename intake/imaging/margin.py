"""The rim of a piece and what is in its margin: where the picture begins, colour patches, register marks, small
print."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.levels import largest, smallest

_RIM_LEVELS = 22
_BANDS = ((0.007, 0.012), (0.0045, 0.007))
_EVEN = 0.8
_INK = {"cyan": (178, 212), "magenta": (290, 345), "yellow": (44, 70)}


@dataclass(frozen=True, slots=True)
class Margin:
    """The outermost tone of a piece and the picture inside it, on an (h, w, 3) image laid square.

    ``colour`` is the median sRGB of the rim (0-255), ``even`` the share of the rim near it, ``left`` to ``bottom`` the
    box
    of the picture in pixels (the whole image where the rim is no margin), ``plain`` 255 where a pixel is of the rim's
    tone.
    """

    colour: tuple[float, float, float]
    even: float
    left: int
    top: int
    right: int
    bottom: int
    plain: NDArray[np.uint8]

    @property
    def depths(self) -> tuple[int, int, int, int]:
        """Width of the margin at left, top, right and bottom, in pixels."""
        height, width = self.plain.shape
        return self.left, self.top, width - self.right, height - self.bottom


def find_margin(image: NDArray[np.uint8]) -> Margin:
    """Return the margin of a piece laid square. The very edge is left out: it is never exact."""
    height, width = image.shape[:2]
    longest = max(height, width)
    # aged paper is browner at its very edge, but the rebate of a plate is no wider than that
    for first, deep in _BANDS:
        skip, depth = max(2, round(first * longest)), max(2, round(deep * longest))
        rim = _band(image, skip, depth)
        colour = np.median(rim, axis=0)
        even = float((np.abs(rim - colour).max(axis=1) <= _RIM_LEVELS).mean())
        if even >= _EVEN:
            break
    away = cv2.absdiff(image, np.full_like(image, np.round(colour).astype(np.uint8)))
    plain = (largest(away) <= _RIM_LEVELS).astype(np.uint8) * 255
    plain[:skip], plain[-skip:], plain[:, :skip], plain[:, -skip:] = 255, 255, 255, 255
    left, right = _picture_span(plain.mean(axis=0) / 255)
    top, bottom = _picture_span(plain[:, left:right].mean(axis=1) / 255)
    left, right = _picture_span(plain[top:bottom].mean(axis=0) / 255)
    red, green, blue = (float(c) for c in colour)
    return Margin((red, green, blue), even, left, top, right, bottom, plain)


def _band(image: NDArray[np.uint8], skip: int, depth: int) -> NDArray[np.float32]:
    """Pixels, (n, 3), of a band ``depth`` wide that begins ``skip`` within the edge."""
    inner = image[skip : image.shape[0] - skip, skip : image.shape[1] - skip]
    bands = (inner[:depth], inner[-depth:], inner[:, :depth], inner[:, -depth:])
    return np.concatenate([b.reshape(-1, 3) for b in bands]).astype(np.float32)


def outside(margin: Margin, border: int) -> NDArray[np.bool_]:
    """Return a mask of the margin: outside the picture by a little, and off the very edge by ``border`` pixels."""
    height, width = margin.plain.shape
    mask = np.zeros((height, width), bool)
    mask[border : height - border, border : width - border] = True
    gap = max(2, round(0.004 * max(height, width)))
    top, left = max(0, margin.top - gap), max(0, margin.left - gap)
    mask[top : margin.bottom + gap, left : margin.right + gap] = False
    return mask


def count_inks(image: NDArray[np.uint8], mask: NDArray[np.bool_]) -> int:
    """Return how many of cyan, magenta and yellow stand as solid patches where ``mask`` is true: 3 is a colour bar."""
    strong = (largest(image).astype(np.int16) - smallest(image) > 90) & mask
    if not strong.any():
        return 0
    hsv = cv2.cvtColor(image, cv2.COLOR_RGB2HSV_FULL)
    hue = hsv[..., 0].astype(np.float32) * (360 / 255)
    found = 0
    for low, high in _INK.values():
        ink = (strong & (hue >= low) & (hue <= high)).astype(np.uint8)
        count, _, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=4)
        for number in range(1, count):
            wide, high_px, area = (
                int(stats[number, k]) for k in (cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_AREA)
            )
            if area >= 9 and area > 0.6 * wide * high_px and max(wide, high_px) <= 4 * min(wide, high_px):
                found += 1
                break
    return found


def count_specks(dark: NDArray[np.bool_], longest: int) -> int:
    """Return the number of small dark things (letters, marks) in a mask; ``longest`` is their greatest length in
    pixels."""
    count, _, stats, _ = cv2.connectedComponentsWithStats(dark.astype(np.uint8), connectivity=8)
    sizes = stats[1:count, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1)
    return int(((sizes <= longest) & (stats[1:count, cv2.CC_STAT_AREA] >= 3)).sum())


def count_patches(image: NDArray[np.uint8]) -> int:
    """Return the number of even squares on an (h, w, 3) image, 2 to 12 % of its long edge wide, as targets have
    them."""
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    even = (cv2.morphologyEx(grey, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) < 9).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(even, connectivity=4)
    wide, high = stats[1:count, cv2.CC_STAT_WIDTH], stats[1:count, cv2.CC_STAT_HEIGHT]
    longest = max(grey.shape)
    least, most = np.minimum(wide, high), np.maximum(wide, high)
    square = (least > 0.02 * longest) & (most < 0.12 * longest) & (most < 1.4 * least)
    return int((square & (stats[1:count, cv2.CC_STAT_AREA] > 0.85 * wide * high)).sum())


def _picture_span(plain: NDArray[np.floating]) -> tuple[int, int]:
    """First and last line (exclusive) of the picture: less than half of the rim's tone. The whole length when none
    is."""
    lines = np.flatnonzero(plain < 0.5)
    return (int(lines[0]), int(lines[-1]) + 1) if len(lines) else (0, len(plain))
