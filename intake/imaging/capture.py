"""What a scanner adds to a picture: noise, lines along an axis (banding), specks of dust. At the stored resolution."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.density import light_table
from intake.imaging.page import Page
from intake.model import Box

_TILE_PX, _TILES = 128, 10
_QUARTER_PX, _PLACE_PX, _MOST_CLIPPED, _EVENEST = 64, 32, 0.02, 3.0
_STRIPS, _STRIP_PX = 24, 8
_DETAIL_PX = 61
_FLATTEST = 8
_JPEG_PX = 8
_MAD = 1.4826
_LEAST_COLUMNS = 200
_MOST_ROUGH = 3.0
# a speck is no larger than this, as the median of its neighbourhood must not see it; one pixel alone is noise
_SPECK_PX = (2, 120)
_MEDIAN_PX = 21
_EVEN_LEVELS, _EVEN_SHARE = 2.5, 0.03
_OUT_OF_NOISE, _LEAST_LEVELS = 7.0, 9.0
_TABLE = light_table(np.dtype(np.uint8))


@dataclass(frozen=True, slots=True)
class Capture:
    """Noise: standard deviation on the evenest places; banding: that of lines (both in CIE L*, None where not told);
    specks on even ground, and how many pixels of such ground were looked at."""

    noise: float | None
    banding: float | None
    specks: int
    even_px: int


def look_at_capture(page: Page) -> Capture:
    """Return what the scan adds, from 100 tiles and 48 strips of the part's box at the stored resolution."""
    noise, specks, even = _tiles(page)
    return Capture(noise, _banding(page), specks, even)


def lightness(image: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return CIE L* (0..100) of (h, w, 3) sRGB (CIE 15, D65 white)."""
    y = cv2.transform(_TABLE[image], np.float32([[0.2126, 0.7152, 0.0722]]))  # type: ignore[arg-type]
    y = y.reshape(image.shape[:2])
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * (24389 / 27)).astype(np.float32)


def _tiles(page: Page) -> tuple[float | None, int, int]:
    box, specks, even = page.box, 0, 0
    spreads: list[float] = []
    wide, high = min(_TILE_PX, box.width), min(_TILE_PX, box.height)
    for row in range(_TILES):
        for column in range(_TILES):
            # the outermost lie at the edges, where bed and margins are
            left = box.left + round((box.width - wide) * column / (_TILES - 1))
            top = box.top + round((box.height - high) * row / (_TILES - 1))
            tile = page.crop(Box(left, top, wide, high))
            spreads += noise_of(tile)
            found, seen = _specks(np.asarray(cv2.cvtColor(tile, cv2.COLOR_RGB2GRAY), np.uint8))
            specks, even = specks + found, even + seen
    return (round(float(np.percentile(spreads, _EVENEST)), 3) if spreads else None), specks, even


def noise_of(tile: NDArray[np.uint8]) -> list[float]:
    """Return the standard deviation, in L*, of what is finer than eight pixels, of each place of 32 x 32 pixels that is
    not clipped: by the mean of its size, as of a normal distribution (a median would jump with whole levels)."""
    light = lightness(tile)
    fine = np.abs(light - cv2.GaussianBlur(light, (0, 0), 8.0)).astype(np.float32)
    clipped = ((tile == 255) | (tile == 0)).any(axis=2).astype(np.float32)
    size = (tile.shape[1] // _PLACE_PX, tile.shape[0] // _PLACE_PX)
    if min(size) < 1:
        return []
    spread = math.sqrt(math.pi / 2) * cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    told = cv2.resize(clipped, size, interpolation=cv2.INTER_AREA) < _MOST_CLIPPED
    return [float(v) for v in spread[told]]


def _specks(grey: NDArray[np.uint8]) -> tuple[int, int]:
    """Small things that stand out of the even quarters of a tile, lighter or darker, and how many pixels those have."""
    ground = cv2.medianBlur(grey, _MEDIAN_PX)
    away = cv2.absdiff(grey, ground)
    found = even = 0
    for top in range(0, grey.shape[0] - _QUARTER_PX + 1, _QUARTER_PX):
        for left in range(0, grey.shape[1] - _QUARTER_PX + 1, _QUARTER_PX):
            at = np.s_[top : top + _QUARTER_PX, left : left + _QUARTER_PX]
            out = away[at] > max(_LEAST_LEVELS, _OUT_OF_NOISE * _MAD * float(np.median(away[at])))
            if float(ground[at].std()) > _EVEN_LEVELS or float(out.mean()) > _EVEN_SHARE:
                continue
            count, _, stats, _ = cv2.connectedComponentsWithStats(out.astype(np.uint8), connectivity=8)
            area = stats[1:count, cv2.CC_STAT_AREA]
            found += int(((area >= _SPECK_PX[0]) & (area <= _SPECK_PX[1])).sum())
            even += _QUARTER_PX**2
    return found, even


def _banding(page: Page) -> float | None:
    """The stronger of the lines along either axis."""
    box = page.box
    if min(box.width, box.height) < _STRIPS * _STRIP_PX:
        return None
    found = []
    for upright in (True, False):
        strips = []
        for n in range(_STRIPS):
            if upright:
                at = box.top + round((box.height - _STRIP_PX) * (n + 0.5) / _STRIPS)
                strip = lightness(page.crop(Box(box.left, at, box.width, _STRIP_PX)))
            else:
                at = box.left + round((box.width - _STRIP_PX) * (n + 0.5) / _STRIPS)
                strip = lightness(page.crop(Box(at, box.top, _STRIP_PX, box.height))).T
            strips.append(np.median(strip, axis=0))
        found.append(lines_of(np.stack(strips)))
    known = [f for f in found if f is not None]
    return round(max(known), 3) if known else None


def lines_of(strips: NDArray[np.floating]) -> float | None:
    """Return the standard deviation of what all of (n, length) strips across the picture show at the same place.

    At each place the evenest strips count, in two halves: what both halves show is no noise and no picture. The sign of
    their product tells how far they go together (quadrant correlation: sin of half pi times its mean), so that the few
    places of an edge that runs the whole way do not count. What repeats every eight pixels is left out: JPEG's blocks.
    """
    fine = strips - cv2.blur(strips.astype(np.float32), (_DETAIL_PX, 1))
    rough = cv2.blur(np.abs(fine).astype(np.float32), (_DETAIL_PX, 1))
    # clipped, nothing shows
    rough[(strips > 99.5) | (strips < 0.5)] = np.inf
    order = np.argsort(rough, axis=0)[:_FLATTEST]
    even = np.take_along_axis(rough, order[-1:], axis=0)[0] < _MOST_ROUGH
    chosen = np.take_along_axis(fine, order, axis=0)
    halves = [chosen[0::2].mean(axis=0)[even], chosen[1::2].mean(axis=0)[even]]
    if len(halves[0]) < _LEAST_COLUMNS:
        return None
    places = np.flatnonzero(even) % _JPEG_PX
    a, b = (h - np.array([np.median(h[places == n]) for n in range(_JPEG_PX)])[places] for h in halves)
    spread = _MAD * math.sqrt(float(np.median(np.abs(a))) * float(np.median(np.abs(b))))
    together = math.sin(math.pi / 2 * float(np.mean(np.sign(a) * np.sign(b))))
    return spread * math.sqrt(max(0.0, together))
