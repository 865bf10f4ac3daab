"""PP-OCRv6 small, text recognition: one line a crop, read at a chosen width."""

from collections.abc import Mapping, Sequence

import cv2
import numpy as np
import onnxruntime
from numpy.typing import NDArray

from intake.model import ReaderSaid
from intake.ocr.onnx import open_model
from intake.ocr.protocol import Picture
from intake.setup import ModelFile

MODEL = "PP-OCRv6_rec_small.onnx"
_HEIGHT_PX = 48  # the model's own
_WIDTHS_PX = (48, 3200)  # a narrower crop is padded, a longer one squeezed: time and memory follow the width


def open_recogniser(models: Mapping[str, ModelFile]) -> onnxruntime.InferenceSession:
    """Return the session that readers of several widths share."""
    return open_model(MODEL, models)


class PpocrReader:
    """``stretch`` widens each line before reading: 1.3 keeps narrow strokes (Roman numerals) apart.

    ``soften`` blurs it first by that share of its height (a Gaussian's deviation): a screen's dots run together.
    """

    def __init__(self, model: onnxruntime.InferenceSession, stretch: float, soften: float = 0.0) -> None:
        self.name = f"ppocr x{stretch:g}" + (" soft" if soften else "")
        self._model = model
        self._stretch, self._soften = stretch, soften
        # Class 0 is "nothing here" and the last one a space (the model's metadata lists those between).
        self._characters = ["", *model.get_modelmeta().custom_metadata_map["character"].split("\n"), " "]

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        """Read crop by crop: a reading must not depend on its neighbours, and one thread gains nothing by batches."""
        return [self._one(crop) for crop in crops]

    def _one(self, crop: Picture) -> ReaderSaid:
        height, width = crop.shape[:2]
        if min(height, width) < 2:
            return ReaderSaid(self.name, "", 0.0)
        if self._soften:
            crop = np.asarray(cv2.GaussianBlur(crop, (0, 0), self._soften * height), np.uint8)
        wide = int(np.clip(round(width * _HEIGHT_PX / height * self._stretch), 8, _WIDTHS_PX[1]))
        how = cv2.INTER_AREA if height > _HEIGHT_PX else cv2.INTER_CUBIC
        line = cv2.resize(crop, (wide, _HEIGHT_PX), interpolation=how)[..., ::-1]
        wave = np.zeros((1, 3, _HEIGHT_PX, max(wide, _WIDTHS_PX[0])), np.float32)
        wave[0, :, :, :wide] = line.transpose(2, 0, 1) / np.float32(127.5) - 1
        return self._decode(self._model.run(None, {"x": wave})[0][0])

    def _decode(self, likely: NDArray[np.float32]) -> ReaderSaid:
        """Greedy CTC: the likeliest class of each step, no repeats or blanks; confidence is the mean of those kept."""
        best = likely.argmax(axis=1)
        starts = np.flatnonzero(best != np.concatenate([[-1], best[:-1]]))
        tops = np.maximum.reduceat(likely[np.arange(len(best)), best], starts)  # the surest step of each letter
        letters = [self._characters[best[i]] if best[i] < len(self._characters) else "" for i in starts]
        kept = starts[best[starts] != 0]
        sure = float(likely[kept, best[kept]].mean()) if len(kept) else 0.0
        least = min((float(top) for top, letter in zip(tops, letters, strict=True) if letter.strip()), default=0.0)
        return ReaderSaid(self.name, "".join(letters), round(sure, 4), round(least, 4))
