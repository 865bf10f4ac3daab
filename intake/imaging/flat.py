"""A four-sided piece laid square."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.outline import Corners


def flatten(
    image: NDArray[np.uint8], corners: Corners, longest_px: int | None = None
) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """Return the piece within ``corners`` as a rectangle, and the 3x3 matrix from ``image`` to it.

    ``corners`` are (4, 2) pixels, clockwise from the top left. The long edge is at most ``longest_px``.
    """
    wide = max(np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[3])))
    high = max(np.hypot(*(corners[3] - corners[0])), np.hypot(*(corners[2] - corners[1])))
    factor = min(1.0, longest_px / max(wide, high)) if longest_px else 1.0
    size = (max(1, round(wide * factor)), max(1, round(high * factor)))
    target = np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], np.float32)
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), target)
    small, step = image, np.eye(3)
    if factor < 0.6:
        # shrink by area first: sampling alone would let a screen or a weave alias
        rough = (max(1, round(image.shape[1] * factor * 1.5)), max(1, round(image.shape[0] * factor * 1.5)))
        small = np.asarray(cv2.resize(image, rough, interpolation=cv2.INTER_AREA), np.uint8)
        step = np.diag([image.shape[1] / rough[0], image.shape[0] / rough[1], 1.0])
    flat = cv2.warpPerspective(small, matrix @ step, size)
    return np.asarray(flat, np.uint8), np.asarray(matrix, np.float64)
