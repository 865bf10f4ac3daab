"""What is drawn round a short line: a certificate's letter stands in a circle, a triangle or a box."""

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box, ReaderSaid

Picture = NDArray[np.uint8]
_READ_PX = 160  # the surroundings are looked at in this size


def frame_round(order: NDArray[np.float32], crop: Callable[[Box, int | None], Picture]) -> ReaderSaid | None:
    """Return what a reader named "frame" says of the line's surroundings: circle, triangle or box; None without one.

    ``order`` is the line's corners in stored pixels.
    """
    middle = order.mean(axis=0)
    half = max(float(np.ptp(order[:, 0])), float(np.ptp(order[:, 1]))) * 1.6
    box = Box(int(middle[0] - half), int(middle[1] - half), max(8, int(2 * half)), max(8, int(2 * half)))
    try:
        patch = crop(box, _READ_PX)
    except ValueError:
        return None
    if patch.shape[0] < 8 or patch.shape[1] < 8:
        return None
    scale = patch.shape[1] / (min(box.width, box.width + min(0, box.left)))
    centre = (float((middle[0] - max(0, box.left)) * scale), float((middle[1] - max(0, box.top)) * scale))
    letters = float(min(np.linalg.norm(order[1] - order[0]), np.linalg.norm(order[3] - order[0]))) * scale
    grey = cv2.GaussianBlur(cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY), (3, 3), 0)
    _, dark = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    found: list[tuple[float, str]] = []
    for ink in (dark, 255 - dark):
        contours, _ = cv2.findContours(ink, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        for contour in contours:
            found += _shape(contour, centre, letters, patch.shape[:2])
    if not found:
        return None
    fit, name = max(found)
    return ReaderSaid("frame", name, fit)


def _shape(
    contour: NDArray[np.int32], centre: tuple[float, float], letters: float, size: tuple[int, ...]
) -> list[tuple[float, str]]:
    left, top, wide, high = cv2.boundingRect(contour)
    if left <= 0 or top <= 0 or left + wide >= size[1] or top + high >= size[0] or min(wide, high) < letters * 0.9:
        return []
    if cv2.pointPolygonTest(contour, centre, False) <= 0:
        return []
    area = cv2.contourArea(contour)
    _, radius = cv2.minEnclosingCircle(contour)
    triangle = cv2.minEnclosingTriangle(contour)[0]
    _, sides, _ = cv2.minAreaRect(contour)
    fits = [
        (area / (np.pi * radius**2), "circle"),
        (area / max(1.0, sides[0] * sides[1]), "box"),
        (area / max(1.0, triangle), "triangle"),
    ]
    fit, name = max(fits)
    return [(round(float(fit), 3), name)] if fit > 0.85 else []
