"""Pictures for the desk: set upright, cut, and laid over one another.

Made from our own derivatives and, for crops, from the received file where it is there.
"""

from collections import OrderedDict
from pathlib import Path
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.load import Config
from intake.imaging.original import Unreadable, open_original
from intake.model import Box, PartKey
from intake.services.dossiers import Dossier
from intake.services.home import Home
from intake.services.receive import digest_of
from intake.services.upright import Matrix, Upright, inverse, times

Picture = NDArray[np.uint8]
OVER_PX = 1400
_CROP_PX = 900
_QUALITY = 88
_GREY = (128, 128, 128)
_KEPT_BYTES = 200_000_000
_LINES_AT_ONCE = 40


class NoPicture(Exception):
    """There is no such picture."""


def upright_jpeg(path: Path, turn: int, mirrored: bool, longest_px: int | None = None) -> bytes:
    """A derivative set upright, as JPEG of at most ``longest_px``. Raises NoPicture when it is not there."""
    picture = _read(path)
    if longest_px and max(picture.shape[:2]) > longest_px:
        factor = longest_px / max(picture.shape[:2])
        picture = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    elif turn == 0 and not mirrored:
        return path.read_bytes()
    return encoded(set_upright(picture, turn, mirrored))


def laid_over(path: Path, a: Upright, b: Upright, a_to_b: Matrix, longest_px: int = OVER_PX) -> bytes:
    """b's picture (the derivative at ``path``) warped into a's upright frame, as JPEG; grey where b has nothing.

    ``a_to_b`` leads from stored pixels of a to those of b. Raises NoPicture when it is not there or cannot be laid.
    """
    picture = _read(path)
    width, height = a.size
    scale = min(1.0, longest_px / max(width, height))
    size = max(1, round(width * scale)), max(1, round(height * scale))
    per_pixel = b.box.width / picture.shape[1]
    shown_to_stored: Matrix = (per_pixel, 0, b.box.left, 0, per_pixel, b.box.top, 0, 0, 1)
    try:
        warp = times(a.from_stored(scale), times(inverse(a_to_b), shown_to_stored))
    except ZeroDivisionError as error:
        raise NoPicture from error
    matrix = np.array(warp, np.float64).reshape(3, 3)
    return encoded(cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_LINEAR, borderValue=_GREY))


class Crops:
    """Crops of marks and lines, upright. All marks of a part, or some of its lines, are cut from one decode of its file
    and kept for a while.
    """

    def __init__(self, home: Home, config: Config) -> None:
        self._home, self._config = home, config
        self._kept: OrderedDict[tuple[PartKey, str, tuple[Box, ...], bool], dict[Box, Picture]] = OrderedDict()
        self._last: tuple[Path, Picture] | None = None
        self._guard = Lock()

    def jpeg(self, d: Dossier, folder: str, box: Box, working: Path, turn: int, mirrored: bool) -> bytes:
        """The crop of ``box`` (stored pixels) with a margin, as JPEG. Raises NoPicture."""
        wanted = _cut_with(d, box)
        cut = self._from_original(d, folder, wanted).get(box) if box in wanted else None
        if cut is None:
            cut = _from_working(d, _with_margin(box), self._read(working))
        return encoded(set_upright(cut, turn, mirrored))

    def place(self, d: Dossier, folder: str, box: Box, working: Path) -> tuple[Picture, Matrix]:
        """What holds ``box`` (stored pixels), as finely as the received file has it or as the working image where that
        is not there: blue, green, red, and what leads from its pixels to stored ones. Raises NoPicture.
        """
        cut = self._from_original(d, folder, (box,), exactly=True).get(box)
        if cut is not None:
            return cut, (box.width / cut.shape[1], 0, box.left, 0, box.height / cut.shape[0], box.top, 0, 0, 1)
        if d.rendered is None:
            raise NoPicture
        r = d.rendered
        return _read(working), (r.stored_per_working, 0, r.box.left, 0, r.stored_per_working, r.box.top, 0, 0, 1)

    def _from_original(
        self, d: Dossier, folder: str, boxes: tuple[Box, ...], *, exactly: bool = False
    ) -> dict[Box, Picture]:
        from intake.services.look import stored_path  # heavy: every stage

        with self._guard:
            name = (d.key, folder, boxes, exactly)
            if name not in self._kept:
                wanted = {box: box if exactly else _with_margin(box) for box in boxes}
                self._kept[name] = self._cut(d, stored_path(Path(folder), d.scan.path), wanted)
                while len(self._kept) > 1 and self._held() > _KEPT_BYTES:
                    self._kept.popitem(last=False)
            return self._kept[name]

    def _read(self, path: Path) -> Picture:
        """The working image, held until another one is asked for: places of one picture are cut one after another."""
        with self._guard:
            if self._last is None or self._last[0] != path:
                self._last = path, _read(path)
            return self._last[1]

    def _held(self) -> int:
        return sum(picture.nbytes for cut in self._kept.values() for picture in cut.values())

    def _cut(self, d: Dossier, path: Path, boxes: dict[Box, Box]) -> dict[Box, Picture]:
        """Nothing when the file is not there, is another one now, or does not decode."""
        try:
            if d.found is None or digest_of(path) != d.key.digest:
                return {}
            with open_original(path, self._config.check, self._home.scratch) as original:
                page = original.page(d.key, d.found)
                return {box: page.crop(around, _CROP_PX)[:, :, ::-1] for box, around in boxes.items()}
        except (OSError, Unreadable, ValueError):
            return {}


def _cut_with(d: Dossier, box: Box) -> tuple[Box, ...]:
    """What is cut with this box: all marks, or the lines read next to it, or the ruler; nothing where it is none."""
    if d.checked and d.checked.ruler and box == d.checked.ruler.box:
        return (box,)
    marks = tuple(dict.fromkeys(r.mark.box for r in d.readings))
    if box in marks:
        return marks
    lines = [x.box for x in d.reading.lines] if d.reading else []
    if box not in lines:
        return ()
    first = lines.index(box) // _LINES_AT_ONCE * _LINES_AT_ONCE
    return tuple(lines[first:][:_LINES_AT_ONCE])


def _with_margin(box: Box) -> Box:
    margin = max(4, round(0.35 * min(box.width, box.height)))
    return Box(box.left - margin, box.top - margin, box.width + 2 * margin, box.height + 2 * margin)


def _from_working(d: Dossier, box: Box, picture: Picture) -> Picture:
    if d.rendered is None:
        raise NoPicture
    per_pixel = d.rendered.box.width / picture.shape[1]
    left, top = (box.left - d.rendered.box.left) / per_pixel, (box.top - d.rendered.box.top) / per_pixel
    x0, y0 = max(0, int(left)), max(0, int(top))
    cut = picture[
        y0 : max(0, int(top + box.height / per_pixel)) + 1, x0 : max(0, int(left + box.width / per_pixel)) + 1
    ]
    if not cut.size:
        raise NoPicture
    return cut


def _read(path: Path) -> Picture:
    """Blue, green, red, as OpenCV has it."""
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    picture = cv2.imread(str(path), flags) if path.is_file() else None
    if picture is None:
        raise NoPicture
    return picture


def set_upright(picture: Picture, turn: int, mirrored: bool) -> Picture:
    """Mirrored first, then turned clockwise."""
    turned = np.rot90(picture[:, ::-1] if mirrored else picture, k=-turn // 90)
    return np.ascontiguousarray(turned)


def encoded(picture: NDArray[np.uint8]) -> bytes:
    """As JPEG. Raises NoPicture."""
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not done:
        raise NoPicture
    return bytes(data.tobytes())
