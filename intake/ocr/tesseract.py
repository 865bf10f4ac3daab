"""Tesseract as second reader, through pytesseract: one process for all lines of a scan, one line a crop."""

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pytesseract
from pytesseract import Output, TesseractError

from intake.errors import SetupError
from intake.model import ReaderSaid
from intake.ocr.protocol import Picture, ReaderTimeout
from intake.setup import find_tesseract

_HEIGHT_PX = 56  # a line of this height has capitals of some 30 px, which tesseract reads best (its own documentation)
_WIDEST_PX = 6000
_BY_SIGNAL = 128  # what a shell adds to a signal's number; Python tells it as a negative status
_EDGE_PX = 10  # it wants some ground round the letters


class TesseractReader:
    """Starting a process costs about 0.1 s, a line about 0.03 s."""

    name = "tesseract"

    def __init__(self, limit_s: float, languages: str = "eng") -> None:
        self._limit_s = limit_s
        self._languages = languages
        found = find_tesseract()
        if found is None:
            raise SetupError(
                "tesseract, the second reader, is not installed. Type: sudo apt-get install tesseract-ocr "
                "(Debian, Ubuntu) or brew install tesseract (macOS)"
            )
        self._program, self._data = str(found.program), str(found.data_folder)

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        """Read all crops. Raises ReaderTimeout when the process had to be ended at its limit."""
        readable = [i for i, crop in enumerate(crops) if min(crop.shape[:2]) >= 4]
        said = [ReaderSaid(self.name, "", 0.0)] * len(crops)
        if not readable:
            return said
        with tempfile.TemporaryDirectory(prefix="kinfold-") as folder:
            paths = [self._write(Path(folder) / f"{i}.png", crops[i]) for i in readable]
            (Path(folder) / "list.txt").write_text("\n".join(paths), encoding="utf-8")
            pages = self._run(str(Path(folder) / "list.txt"))
        for i, page in zip(readable, pages[: len(readable)], strict=False):
            said[i] = page
        return said

    def _write(self, path: Path, crop: Picture) -> str:
        grey = cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY)
        wide = int(np.clip(round(grey.shape[1] * _HEIGHT_PX / grey.shape[0]), 4, _WIDEST_PX))
        grey = cv2.resize(
            grey, (wide, _HEIGHT_PX), interpolation=cv2.INTER_AREA if grey.shape[0] > _HEIGHT_PX else cv2.INTER_CUBIC
        )
        if np.median(grey) < (float(grey.min()) + float(grey.max())) / 2:
            grey = 255 - grey  # white on dark
        edge = int(np.median(grey))
        grey = cv2.copyMakeBorder(grey, _EDGE_PX, _EDGE_PX, _EDGE_PX, _EDGE_PX, cv2.BORDER_CONSTANT, value=edge)
        cv2.imwrite(str(path), grey)
        return str(path)

    def _run(self, list_path: str) -> list[ReaderSaid]:
        pytesseract.pytesseract.tesseract_cmd = self._program
        os.environ["OMP_THREAD_LIMIT"] = "1"
        try:
            return self._lines(self._table(list_path))
        except TesseractError as error:
            if 0 <= error.status < _BY_SIGNAL:
                raise
            # A signal ended it (memory ran out elsewhere, a person): that says nothing of the lines. Once more.
            return self._lines(self._table(list_path))

    def _table(self, list_path: str) -> dict[str, list[object]]:
        try:
            return pytesseract.image_to_data(
                list_path,
                lang=self._languages,
                config=f'--tessdata-dir "{self._data}" --psm 7 -c tessedit_do_invert=0',
                output_type=Output.DICT,
                timeout=self._limit_s,
            )
        except TesseractError:
            raise
        except RuntimeError as error:
            if "timeout" in str(error).lower():
                raise ReaderTimeout(f"tesseract was ended after {self._limit_s:g} s") from error
            raise

    def _lines(self, table: dict[str, list[object]]) -> list[ReaderSaid]:
        words: dict[int, list[tuple[str, float]]] = {}
        for page, word, sure in zip(table["page_num"], table["text"], table["conf"], strict=True):
            kept = words.setdefault(int(str(page)), [])
            if str(word).strip() and float(str(sure)) >= 0:
                kept.append((str(word), float(str(sure)) / 100))
        return [
            ReaderSaid(
                self.name,
                " ".join(w for w, _ in words.get(page, [])),
                round(sum(c for _, c in words[page]) / len(words[page]), 4) if words.get(page) else 0.0,
                round(min((c for _, c in words.get(page, [])), default=0.0), 4),
            )
            for page in range(1, max(words, default=0) + 1)
        ]
