"""Ask the product to read: its own stages with the config as it stands, in a process that does nothing else."""

import os
import resource
import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import pytesseract
from numpy.typing import NDArray
from pytesseract import Output

from intake.config.load import Config, load_config
from intake.imaging.original import open_original
from intake.imaging.page import Page
from intake.model import Box, Parsed, PartFound, PartKey, Reading
from intake.ocr.engines import load_engines
from intake.ocr.protocol import Engines, Picture, Quad
from intake.setup import find_tesseract
from intake.setup import load_engines as load_model_rows
from intake.stages.parse import parse
from intake.stages.read import read
from intake.stages.render import positive
from tests.bench.reading_lines import LineCrop
from tests.bench.reading_sheets import SheetScan
from tests.made import CONFIG

# A board is a page of this side with crops in its margins, far enough apart that none is beside another.
BOARD_PX, WORKING_PX, APART_PX, ROOM_PX = 8000, 1000, 170, 1050
ON_BOARD = 30


@dataclass(frozen=True, slots=True)
class Looked:
    """What the product made of a scan or a board, and what it cost: CPU seconds of all processes, peak bytes so far."""

    reading: Reading
    parsed: Parsed
    cpu_s: float
    opened_s: float
    peak: int


@lru_cache(maxsize=1)
def _tools() -> tuple[Config, Engines]:
    config = load_config(CONFIG)
    return config, load_engines(config.read, {row.file: row for row in load_model_rows(CONFIG)[0]})


def look_at_sheet(scan: SheetScan, scratch: Path) -> Looked:
    """Open a scan as the product does, read and parse it."""
    config, engines = _tools()
    started = _cpu_s()
    with open_original(scan.path, config.check, scratch) as original:
        page = original.page(PartKey("0" * 64, 1), PartFound(1, 0, original.leaves[0].whole))
        opened = _cpu_s()
        picture = positive(page, config.render) if scan.polarity == "negative" else page.working
        reading = read(page, picture, scan.kind, scan.polarity, engines, config.read, scan.ppi)
        parsed = parse(reading, page.box, scan.kind, config.patterns, config.certificates, config.parse)
        return Looked(reading, parsed, _cpu_s() - opened, opened - started, _peak())


@dataclass(frozen=True, slots=True)
class Board:
    """A page that is paper but for the crops at ``places`` (left, top); its pixels are put together when asked for."""

    crops: tuple[LineCrop, ...]
    places: tuple[tuple[int, int], ...]

    @property
    def quads(self) -> list[NDArray[np.float32]]:
        """The true quads on the page."""
        return [c.quad + np.float32(at) for c, at in zip(self.crops, self.places, strict=True)]

    def page(self) -> Page:
        """The board as a part."""
        box = Box(0, 0, BOARD_PX, BOARD_PX)
        working = np.full((WORKING_PX, WORKING_PX, 3), 255, np.uint8)
        return Page(PartKey("0" * 64, 1), box, working, None, BOARD_PX / WORKING_PX, box, self._cut)

    def _cut(self, box: Box, longest_px: int | None) -> Picture:
        out = np.full((box.height, box.width, 3), 255, np.uint8)
        for crop, (x, y) in zip(self.crops, self.places, strict=True):
            high, wide = crop.picture.shape[:2]
            left, top = max(box.left, x), max(box.top, y)
            right, bottom = min(box.left + box.width, x + wide), min(box.top + box.height, y + high)
            if right > left and bottom > top:
                out[top - box.top : bottom - box.top, left - box.left : right - box.left] = crop.picture[
                    top - y : bottom - y, left - x : right - x
                ]
        shrink = longest_px / max(out.shape[:2]) if longest_px else 1.0
        return cv2.resize(out, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1 else out


@dataclass(frozen=True, slots=True)
class _ToldDetector:
    """Finds what stands on a board: crops of lines measure the readers, whole sheets the detector."""

    quads: list[NDArray[np.float32]]
    name: str = "told"

    def find(self, picture: Picture) -> list[Quad]:
        return [q * np.float32(picture.shape[1] / BOARD_PX) for q in self.quads]


def boards_of(crops: Sequence[LineCrop]) -> list[Board]:
    """Lay crops out, level ones along the top and lines on end down the left side; film and paper apart."""
    boards: list[Board] = []
    for film in (False, True):
        waiting = [c for c in crops if is_film(c) == film]
        while waiting:
            placed: list[tuple[LineCrop, tuple[int, int]]] = []
            kept: list[LineCrop] = []
            x, y, row, side = ROOM_PX + APART_PX, APART_PX, 0, ROOM_PX + APART_PX
            left = APART_PX
            for crop in waiting:
                high, wide = crop.picture.shape[:2]
                if crop.condition == "vertical":
                    if side + high > BOARD_PX:
                        side, left = ROOM_PX + APART_PX, left + 2 * APART_PX
                    at = (left, side)
                    fits = left + wide < ROOM_PX
                    side += (high + APART_PX) if fits else 0
                else:
                    if x + wide > BOARD_PX - APART_PX:
                        x, y, row = ROOM_PX + APART_PX, y + row + APART_PX, 0
                    at = (x, y)
                    fits = y + high < ROOM_PX
                    x, row = (x + wide + APART_PX, max(row, high)) if fits else (x, row)
                if fits and len(placed) < ON_BOARD:
                    placed.append((crop, at))
                else:
                    kept.append(crop)
            boards.append(Board(tuple(c for c, _ in placed), tuple(at for _, at in placed)))
            waiting = kept
    return boards


def is_film(crop: LineCrop) -> bool:
    """Edge print stands on film."""
    return crop.told.field == "edge print"


def look_at_board(board: Board) -> Looked:
    """Read the lines of a board where they are told to stand, as lettering: of that no strips are looked at."""
    config, engines = _tools()
    told = Engines(_ToldDetector(board.quads), engines.first, engines.others)
    started = _cpu_s()
    page = board.page()
    reading = read(page, page.working, "lettering", "positive", told, config.read, None)
    kind = "film_negative" if is_film(board.crops[0]) else "finished_sheet"
    parsed = parse(reading, page.box, kind, config.patterns, config.certificates, config.parse)
    return Looked(reading, parsed, _cpu_s() - started, 0.0, _peak())


def whole_page(picture: Picture, mode: int) -> tuple[list[str], float]:
    """The lines that tesseract reads on the whole upright picture, and its CPU seconds."""
    found = find_tesseract()
    assert found is not None
    pytesseract.pytesseract.tesseract_cmd = str(found.program)
    os.environ["OMP_THREAD_LIMIT"] = "1"
    started = _cpu_s()
    table = pytesseract.image_to_data(
        picture, lang="eng", config=f'--tessdata-dir "{found.data_folder}" --psm {mode}', output_type=Output.DICT
    )
    lines: dict[tuple[int, int, int], list[str]] = {}
    for block, paragraph, line, word in zip(
        table["block_num"], table["par_num"], table["line_num"], table["text"], strict=True
    ):
        lines.setdefault((block, paragraph, line), []).append(str(word))
    return [" ".join(words) for words in lines.values()], _cpu_s() - started


def _cpu_s() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def _peak() -> int:
    """The largest resident memory of this process so far, in bytes (VmHWM, proc(5))."""
    status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
    return int(status.split("VmHWM:")[1].split()[0]) * 1024
