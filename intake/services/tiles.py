"""Any region of a picture as it is looked at: set upright, a negative as a positive, laid over another; at any size.

Each picture is a stack of levels: the pyramid's where there is one, and the working image with its halvings. A region
is one warp of the level that is next finer than what is wanted, so that turned, mirrored and registered pictures all
come the same way, and exactly.
"""

import math
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.load import Config
from intake.imaging.alike import tones_alike
from intake.imaging.derived import read_colour
from intake.imaging.libvips import pyvips
from intake.imaging.pyramid import Pyramid
from intake.model import Box
from intake.services.home import Home
from intake.services.pictures import NoPicture
from intake.services.pyramids import Pyramids, Source
from intake.services.upright import Matrix, Upright, inverse, times

Picture = NDArray[np.uint8]
_GREY = 128
_SMALLEST = 256
_COMPARED_PX = 400  # tones of two pictures are compared at this size: exposure is no matter of detail
_MOST_READ = 16  # pixels read for one that is wanted, at most: beyond, a perspective is too steep to be a picture
_EXACT = 1e-6
_SHIFTED: Matrix = (
    1,
    0,
    0.5,
    0,
    1,
    0.5,
    0,
    0,
    1,
)  # from pixels counted by their centres to pixels counted from the edge


@dataclass(frozen=True, slots=True)
class Look:
    """What is looked at: a part's picture within a frame.

    ``frame`` is the upright picture that it is seen in: its own, or that of the part it is laid over; then ``laid``
    leads from stored pixels of the frame's part to stored pixels of this one, as matches do: pixel centres are whole
    numbers. ``positive`` is the derivative to be shown in place of the film, if any. ``like`` is what lies under it,
    where its tones are to be brought to those.
    """

    source: Source
    frame: Upright
    working: Path
    positive: Path | None = None
    laid: Matrix | None = None
    like: "Look | None" = None


@dataclass(frozen=True, slots=True)
class _Held:
    """The working image and its halvings (RGB), and per channel what the positive shows for each of its tones.

    ``colourless``: the positive is grey, the mean of what the three channels show.
    """

    levels: tuple[Picture, ...]
    tones: Picture | None
    colourless: bool = False


@dataclass(frozen=True, slots=True)
class _Level:
    """One level: its size, how many stored pixels one of its pixels is wide and high, and how to read a box of it."""

    width: int
    height: int
    across: float
    down: float
    read: Callable[[Box], Picture]


class Tiles:
    """Regions of pictures. What was decoded is held within a bound; safe for many threads."""

    def __init__(self, home: Home, config: Config) -> None:
        self.pyramids = Pyramids(home, config)
        self._config = config
        self._alike = lru_cache(config.looking.held_pictures)(self._tones_of)
        self._held: OrderedDict[tuple[Path, Path | None], _Held] = OrderedDict()
        self._guard = threading.Lock()

    def is_sharp(self, look: Look) -> bool:
        """Can every size be had as sharp as the scan is? If not, what is nearer than the working image is soft."""
        levels = self._working_levels(look, self._kept(look))
        return min(levels[0].across, levels[0].down) <= 1 + _EXACT or self.pyramids.get(look.source) is not None

    def region(self, look: Look, box: Box, size: tuple[int, int]) -> tuple[Picture, bool]:
        """``box`` of the frame (stored pixels, upright) at ``size`` (width, height): RGB, and is it as sharp as can be?

        Grey where the picture has nothing. Raises NoPicture when there is none.
        """
        held = self._kept(look)
        try:
            warp = self._warp(look, box, size)
        except ZeroDivisionError as error:
            raise NoPicture from error
        step = _step(warp, size)
        if step is None:
            return np.full((size[1], size[0], 3), _GREY, np.uint8), True
        working = self._working_levels(look, held)
        wants_more = step < working[0].across * (1 - _EXACT) and working[0].across > 1 + _EXACT
        pyramid = self.pyramids.get(look.source) if wants_more else None
        levels = [*(_pyramid_levels(pyramid) if pyramid else ()), *working]
        try:
            made = _cut(levels, warp, size, step)
        except pyvips.Error as error:
            raise NoPicture from error
        if look.positive is not None and held.tones is not None:
            made = cv2.LUT(made, held.tones)
            if held.colourless:
                grey = np.round(made.mean(axis=2, dtype=np.float32)).astype(np.uint8)
                made = np.repeat(grey[..., None], 3, axis=2)
        tones = self._alike(replace(look, like=None), look.like) if look.like else None
        return made if tones is None else cv2.LUT(made, tones), pyramid is not None or not wants_more

    def _tones_of(self, over: Look, under: Look) -> Picture | None:
        """What brings the tones of ``over`` to those of ``under``, read off both at a small size."""
        width, height = over.frame.size
        factor = min(1.0, _COMPARED_PX / max(width, height))
        size = max(1, round(width * factor)), max(1, round(height * factor))
        box = Box(0, 0, width, height)
        there = [_inside(self._warp(look, box, size), size, look.source.found.box) for look in (over, under)]
        return tones_alike(self.region(over, box, size)[0], self.region(under, box, size)[0], there[0] & there[1])

    def _warp(self, look: Look, box: Box, size: tuple[int, int]) -> NDArray[np.float64]:
        """Pixels wanted -> stored pixels of the part, from its left upper corner. Both count from edges."""
        to_frame: Matrix = (box.width / size[0], 0, box.left, 0, box.height / size[1], box.top, 0, 0, 1)
        whole = times(inverse(look.frame.from_stored()), to_frame)
        if look.laid is not None:
            whole = times(_SHIFTED, times(look.laid, times(inverse(_SHIFTED), whole)))
        corner: Matrix = (1, 0, -look.source.found.box.left, 0, 1, -look.source.found.box.top, 0, 0, 1)
        return np.array(times(corner, whole), np.float64).reshape(3, 3)

    def _working_levels(self, look: Look, held: _Held) -> list[_Level]:
        box = look.source.found.box

        def level(picture: Picture) -> _Level:
            height, width = picture.shape[:2]
            return _Level(
                width,
                height,
                box.width / width,
                box.height / height,
                lambda b: picture[b.top : b.top + b.height, b.left : b.left + b.width],
            )

        return [level(picture) for picture in held.levels]

    def _kept(self, look: Look) -> _Held:
        name = (look.working, look.positive)
        with self._guard:
            if name in self._held:
                self._held.move_to_end(name)
                return self._held[name]
        working = _read(look.working)
        positive = _read(look.positive) if look.positive else None
        made = _Held(_halved(working), None)
        if positive is not None:
            made = _Held(made.levels, _tones(working, positive), not np.ptp(positive, axis=2).any())
        with self._guard:
            self._held[name] = made
            while len(self._held) > self._config.looking.held_pictures:
                self._held.popitem(last=False)
        return made


def _inside(warp: NDArray[np.float64], size: tuple[int, int], box: Box) -> NDArray[np.bool_]:
    """(height, width): which of the pixels wanted lie on the part."""
    x, y = np.meshgrid(np.arange(size[0]) + 0.5, np.arange(size[1]) + 0.5)
    u, v, w = np.einsum("ij,jhw->ihw", warp, np.stack((x, y, np.ones_like(x))))
    return np.asarray((w > _EXACT) & (u > 0) & (v > 0) & (u < box.width * w) & (v < box.height * w))


def _pyramid_levels(pyramid: Pyramid) -> list[_Level]:
    def level(number: int, width: int, height: int) -> _Level:
        return _Level(width, height, 2.0**number, 2.0**number, lambda b: pyramid.read(number, b))

    return [level(n, *size) for n, size in enumerate(pyramid.sizes)]


def _step(warp: NDArray[np.float64], size: tuple[int, int]) -> float | None:
    """Stored pixels for one that is wanted, in the middle; None where a corner is past the horizon."""
    (width, height), w = size, warp[2]
    if min(w @ (x, y, 1) for x in (0, width) for y in (0, height)) <= _EXACT:
        return None
    x, y, z = warp @ (width / 2, height / 2, 1.0)
    turn = (warp[:2, :2] - np.outer((x / z, y / z), warp[2, :2])) / z
    return float(abs(np.linalg.det(turn)) ** 0.5) or None


def _cut(levels: list[_Level], warp: NDArray[np.float64], size: tuple[int, int], step: float) -> Picture:
    """The warp, from the coarsest level that is at least as fine as ``step``."""
    fine = [n for n, level in enumerate(levels) if max(level.across, level.down) <= step * (1 + 1e-3)]
    first = max(fine, key=lambda n: levels[n].across) if fine else 0
    for level in levels[first:]:
        to_level = np.diag((1 / level.across, 1 / level.down, 1.0)) @ warp
        box = _touched(to_level, size, level)
        if box is None:
            break
        if box.width * box.height > _MOST_READ * max(size[0] * size[1], _SMALLEST**2):
            continue
        centred = _moved(-0.5 - box.left, -0.5 - box.top) @ to_level @ _moved(0.5, 0.5)
        part = level.read(box)
        if np.allclose(centred / centred[2, 2], np.eye(3), atol=1e-4) and part.shape[1::-1] == size:
            return np.ascontiguousarray(part)
        return _warped(part, centred, size)
    return np.full((size[1], size[0], 3), _GREY, np.uint8)


def _warped(part: Picture, centred: NDArray[np.float64], size: tuple[int, int]) -> Picture:
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    made = cv2.warpPerspective(part, centred, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(made, np.uint8)


def _touched(to_level: NDArray[np.float64], size: tuple[int, int], level: _Level) -> Box | None:
    """The pixels of the level that the warp reads; None when there are none."""
    last = size[0] - 0.5, size[1] - 0.5
    corners = np.array([(x, y, 1.0) for x in (0.5, last[0]) for y in (0.5, last[1])]) @ to_level.T
    places = corners[:, :2] / corners[:, 2:] - 0.5
    low, high = np.floor(places.min(0) + 1e-4), np.ceil(places.max(0) - 1e-4) + 1
    left, top = max(0, math.floor(low[0])), max(0, math.floor(low[1]))
    right, bottom = min(level.width, math.ceil(high[0])), min(level.height, math.ceil(high[1]))
    if right <= 0 or bottom <= 0 or left >= level.width or top >= level.height:
        return None
    left, top = min(left, level.width - 1), min(top, level.height - 1)
    return Box(left, top, max(1, right - left), max(1, bottom - top))


def _moved(x: float, y: float) -> NDArray[np.float64]:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])


def _halved(picture: Picture) -> tuple[Picture, ...]:
    levels = [picture]
    while max(levels[-1].shape[:2]) > _SMALLEST:
        height, width = levels[-1].shape[:2]
        size = max(1, width // 2), max(1, height // 2)
        levels.append(np.asarray(cv2.resize(levels[-1], size, interpolation=cv2.INTER_AREA), np.uint8))
    return tuple(levels)


def _tones(working: Picture, positive: Picture) -> Picture:
    """(1, 256, 3): what the positive shows for each tone of the film, channel by channel, as the two pictures have it.

    The positive is one curve a channel (``intake/imaging/darkroom.py``), so their pixels tell it; tones that do not
    occur are put between their neighbours.
    """
    if working.shape != positive.shape:
        raise NoPicture
    table = np.empty((1, 256, 3), np.uint8)
    for channel in range(3):
        film, shown = working[..., channel].ravel(), positive[..., channel].ravel()
        count = np.bincount(film, minlength=256)
        total = np.bincount(film, weights=shown, minlength=256)
        there = np.flatnonzero(count)
        table[0, :, channel] = np.round(np.interp(np.arange(256), there, total[there] / count[there]))
    return table


def _read(path: Path) -> Picture:
    """Red, green, blue."""
    picture = read_colour(path)
    if picture is None:
        raise NoPicture
    return picture
