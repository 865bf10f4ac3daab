"""How soft a picture is: the width of its sharpest edges, in pixels."""

import cv2
import numpy as np
from numpy.typing import NDArray

_QUIET_LEVELS = 8.0
_AGAINST_NOISE_PX = 1.0
_AGAIN_PX = 2.0


def edge_width_px(grey: NDArray[np.uint8]) -> tuple[float, int]:
    """Return the blur of the sharpest tenth of edges, as the standard deviation of a Gaussian in pixels, and their
    count.

    An edge blurred by a Gaussian of sigma s and blurred again by r has its slope divided by sqrt(1 + r^2 / s^2), so s
    follows from the ratio of the slopes (re-blur method, after Zhuo and Sim 2011, Pattern Recognition 44:1852). A sharp
    scan reads about 0.5 to 1. Slopes below ``_QUIET_LEVELS`` a pixel after re-blurring count as noise.
    """
    base = cv2.GaussianBlur(grey, (0, 0), _AGAINST_NOISE_PX).astype(np.float32)
    first, second = _slope(base), _slope(cv2.GaussianBlur(base, (0, 0), _AGAIN_PX))
    strong = second > _QUIET_LEVELS
    count = int(strong.sum())
    if count == 0:
        return 0.0, 0
    # on an edge's own line both slopes peak; beside it the ratio is smaller, so the largest ratios are the edges
    ratio = np.maximum(first[strong] / second[strong], 1.0001)
    variance = _AGAIN_PX**2 / (float(np.percentile(ratio, 90)) ** 2 - 1)
    return float(np.sqrt(max(variance - _AGAINST_NOISE_PX**2, 0.0))), count


def _slope(grey: NDArray[np.float32]) -> NDArray[np.float32]:
    dx = cv2.Sobel(grey, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    dy = cv2.Sobel(grey, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    return np.asarray(cv2.magnitude(dx, dy), np.float32)
