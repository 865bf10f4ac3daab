"""PP-OCRv6 small, text detection: a map of where text is, cut into slanting rectangles."""

from collections.abc import Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.ocr.onnx import open_model
from intake.ocr.protocol import Picture, Quad
from intake.setup import ModelFile

MODEL = "PP-OCRv6_det_small.onnx"
# How the model was trained (its published inference settings): mean and spread of the colours in BGR order, the
# network's step, the level above which the map is text, and how far a box grows beyond it.
_MEAN = np.array([0.485, 0.456, 0.406], np.float32) * 255
_SPREAD = np.array([0.229, 0.224, 0.225], np.float32) * 255
_LEVELS = ((np.arange(256, dtype=np.float32)[:, None] - _MEAN) / _SPREAD).T.copy()
_STEP = 32
_LEVEL = 0.3
_GROWTH = 1.6
_SMALLEST_PX = 3.0
_MOST_PIXELS = 6_000_000
_MOST_QUADS = 1000


class PpocrDetector:
    """About 0.55 CPU seconds a megapixel on one thread; lines need letters of some 8 to 80 px."""

    name = "ppocr"

    def __init__(self, models: Mapping[str, ModelFile], least_score: float) -> None:
        self._model = open_model(MODEL, models)
        self._least_score = least_score

    def find(self, picture: Picture) -> list[Quad]:
        """Return the quads, clockwise from the corner that is top left when the long side lies flat.

        Raises ValueError above 6 megapixels: memory follows the picture's size.
        """
        height, width = picture.shape[:2]
        if height * width > _MOST_PIXELS:
            raise ValueError(f"{width} x {height} pixels are too many for one look")
        if min(height, width) < 2:
            return []
        padded = cv2.copyMakeBorder(picture, 0, -height % _STEP, 0, -width % _STEP, cv2.BORDER_REPLICATE)
        wave = np.stack([_LEVELS[i].take(padded[..., 2 - i]) for i in range(3)])[None]
        likely = self._model.run(None, {"x": wave})[0][0, 0][:height, :width]
        return self._quads(likely)

    def _quads(self, likely: NDArray[np.float32]) -> list[Quad]:
        mask = cv2.dilate((likely > _LEVEL).astype(np.uint8), np.ones((2, 2), np.uint8))
        contours, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        quads: list[Quad] = []
        for contour in sorted(contours, key=len, reverse=True)[:_MOST_QUADS]:
            middle, (wide, high), angle = cv2.minAreaRect(contour)
            if min(wide, high) < _SMALLEST_PX or self._score(likely, contour) < self._least_score:
                continue
            grow = wide * high * _GROWTH / (2 * (wide + high))
            quads.append(cv2.boxPoints((middle, (wide + 2 * grow, high + 2 * grow), angle)).astype(np.float32))
        return quads

    @staticmethod
    def _score(likely: NDArray[np.float32], contour: NDArray[np.int32]) -> float:
        left, top, wide, high = cv2.boundingRect(contour)
        mask = np.zeros((high, wide), np.uint8)
        cv2.fillPoly(mask, [contour - np.array([left, top], np.int32)], 1)
        return float(cv2.mean(likely[top : top + high, left : left + wide], mask)[0])
