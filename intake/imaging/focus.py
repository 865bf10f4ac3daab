"""How soft a picture is: the width of its sharpest edges, in pixels."""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box

_QUIET_LEVELS = 3.0
_AGAINST_NOISE_PX = 1.0
_AGAIN_PX = 2.0
_TILE_PX = 224
_TILES = 6
_LEAST_EDGES = 60


def edge_width_px(grey: NDArray[np.uint8]) -> float | None:
    """Return the blur of the sharpest tenth of edges, a Gaussian's standard deviation in pixels; None without edges.

    An edge blurred by a Gaussian of sigma s and blurred again by r has its slope divided by sqrt(1 + r^2 / s^2), so s
    follows from the ratio of the slopes (re-blur method, after Zhuo and Sim 2011, Pattern Recognition 44:1852). A sharp
    scan reads about 0.5 to 1. Slopes below ``_QUIET_LEVELS`` a pixel after re-blurring count as noise.
    """
    base = cv2.GaussianBlur(grey, (0, 0), _AGAINST_NOISE_PX).astype(np.float32)
    first, second = _slope(base), _slope(cv2.GaussianBlur(base, (0, 0), _AGAIN_PX))
    strong = second > _QUIET_LEVELS
    if int(strong.sum()) < _LEAST_EDGES:
        return None
    # on an edge's own line both slopes peak; beside it the ratio is smaller, so the largest ratios are the edges
    ratio = np.maximum(first[strong] / second[strong], 1.0001)
    variance = _AGAIN_PX**2 / (float(np.percentile(ratio, 90)) ** 2 - 1)
    return float(np.sqrt(max(variance - _AGAINST_NOISE_PX**2, 0.0)))


def sharpest_edge_px(
    grey: NDArray[np.uint8], scale: float, read: Callable[[Box], NDArray[np.uint8]], whole: Box
) -> float | None:
    """Return the median ``edge_width_px`` over a few tiles of the stored picture, where its edges are steepest.

    ``grey`` is a small copy, ``scale`` stored pixels to one of its, ``read`` gives a box of it in sRGB.
    """
    side = max(4, round(_TILE_PX / scale))
    strength = cv2.blur(_slope(grey.astype(np.float32)), (side, side))
    widths = []
    for _ in range(_TILES):
        _, peak, _, (x, y) = cv2.minMaxLoc(strength)
        if peak <= 0.05:
            break
        strength[max(0, y - side) : y + side, max(0, x - side) : x + side] = 0
        wide, high = min(_TILE_PX, whole.width), min(_TILE_PX, whole.height)
        left = min(max(0, round(x * scale - wide / 2)), whole.width - wide)
        top = min(max(0, round(y * scale - high / 2)), whole.height - high)
        tile = cv2.cvtColor(read(Box(left, top, wide, high)), cv2.COLOR_RGB2GRAY)
        width = edge_width_px(np.asarray(tile, np.uint8))
        widths += [] if width is None else [width]
    return float(np.median(widths)) if widths else None


def _slope(grey: NDArray[np.float32]) -> NDArray[np.float32]:
    dx = cv2.Sobel(grey, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    dy = cv2.Sobel(grey, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    return np.asarray(cv2.magnitude(dx, dy), np.float32)
