"""Where a ruler may lie: straight lines along which one period holds most of the detail."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.check import RulerRules
from intake.model import Box

Read = Callable[[Box, int | None], NDArray[np.uint8]]
Grey = NDArray[np.float32]

# A window holds 14 to 49 ticks, so that a spectrum tells their period; each level of the picture is for other rulers.
_WINDOW, _HOP = 128, 64
_BINS = (14, 49)
_COARSER = 3.0
_BAND_ROWS = 512
_WORTH_SHRINKING = 1.25  # to shrink by less costs more than the pixels that it saves
_LEAST_SHARE, _LEAST_LEVELS = 0.5, 2.5
# before a window's spectrum is asked: detail finer than the longest period holds so much of it, and so much of that
# goes on in the next row
_LONGEST_PX, _FINE_SHARE, _GOES_ON = 9, 0.35, 0.3
_AT_ONCE = 8192
_LEAST_WINDOWS = 3
_MOST_THICK = 16.0  # in ticks: a screen is periodic too, but all over
MOST_CANDIDATES = 8


@dataclass(frozen=True, slots=True)
class Candidate:
    """A line of regular ticks in stored pixels: ``start`` to ``end``, ``period`` apart, how sure."""

    start: tuple[float, float]
    end: tuple[float, float]
    period: float
    score: float


def candidates(overview: NDArray[np.uint8], whole: Box, read: Read, rules: RulerRules) -> Iterator[Candidate]:
    """Lines of regular ticks on three levels: the finest read in bands, never whole."""
    long_px = max(whole.width, whole.height)
    grey = np.asarray(cv2.cvtColor(overview, cv2.COLOR_RGB2GRAY), np.uint8)
    coarse = long_px / max(grey.shape)
    yield from _lines(grey, (0.0, 0.0), coarse)
    size = (max(1, round(grey.shape[1] / _COARSER)), max(1, round(grey.shape[0] / _COARSER)))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    yield from _lines(np.asarray(small, np.uint8), (0.0, 0.0), coarse * _COARSER)
    fine = long_px / rules.reading_px
    fine = fine if fine > _WORTH_SHRINKING else 1.0
    if fine * 1.2 > coarse:
        return
    rows = round(_BAND_ROWS * fine)
    for top in range(0, whole.height, rows * 3 // 4):
        band = Box(0, top, whole.width, min(rows, whole.height - top))
        seen = cv2.cvtColor(read(band, round(max(band[2:]) / fine)), cv2.COLOR_RGB2GRAY)
        yield from _lines(np.asarray(seen, np.uint8), (0.0, float(top)), fine)
        if top + rows >= whole.height:
            return


def grey_of(image: NDArray[np.uint8]) -> Grey:
    """Return (h, w) grey, 0 to 255, of (h, w, 3) sRGB."""
    return np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), np.float32)


def _lines(grey: NDArray[np.uint8], origin: tuple[float, float], scale: float) -> Iterator[Candidate]:
    """Lines of ticks along both axes of ``grey``, whose pixel is ``scale`` stored ones and begins at ``origin``."""
    for turned in (False, True):
        view = np.asarray(cv2.transpose(grey), np.uint8) if turned else grey
        if view.shape[1] < _WINDOW + (_LEAST_WINDOWS - 1) * _HOP or view.shape[0] < 8:
            continue
        for x0, y0, x1, y1, period, score in _runs(view):
            start, end = ((y0, x0), (y1, x1)) if turned else ((x0, y0), (x1, y1))
            yield Candidate(
                (origin[0] + start[0] * scale, origin[1] + start[1] * scale),
                (origin[0] + end[0] * scale, origin[1] + end[1] * scale),
                period * scale,
                score,
            )  # fmt: skip


def _runs(view: NDArray[np.uint8]) -> Iterator[tuple[float, float, float, float, float, float]]:
    """Thin runs of windows along x in which one period holds most of the detail: ends, period in pixels, score."""
    pairs = len(view) // 2 * 2
    share, bins = _periodic(cv2.addWeighted(view[:pairs:2], 0.5, view[1:pairs:2], 0.5, 0, dtype=cv2.CV_32F))
    mask = (share > 0).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA])[: 4 * MOST_CANDIDATES] + 1
    for n in order.tolist() if count > 1 else ():
        left, top, windows, rows = (int(v) for v in stats[n, :4])
        if windows < _LEAST_WINDOWS:
            continue
        at = np.s_[top : top + rows, left : left + windows]
        inside = labels[at] == n
        weight = np.where(inside, share[at], 0)
        period = _WINDOW / float(np.median(bins[at][inside]))
        if 2 * float(np.median(inside.sum(axis=0))) > _MOST_THICK * period:
            continue
        y, x = np.nonzero(weight)
        line = np.polyfit(x, 2.0 * (top + y), 1, w=weight[y, x]) if windows > 1 else (0.0, 2.0 * top)
        a, b = float(np.polyval(line, 0)), float(np.polyval(line, windows - 1))
        first, last = left * _HOP + _WINDOW / 2, (left + windows - 1) * _HOP + _WINDOW / 2
        if abs(b - a) > 0.08 * (last - first):
            continue
        slope = (b - a) / (last - first)
        half = _WINDOW / 2
        yield first - half, a - slope * half, last + half, b + slope * half, period, float(weight.sum(axis=1).max())


def _periodic(rows: Grey) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """For each row and window along x: the share of its detail that one period holds (0 where it is not most), and the
    period's place in the spectrum, refined. Spectra are taken only where fine detail outweighs the rest."""
    windows = np.lib.stride_tricks.sliding_window_view(rows, _WINDOW, axis=1)[:, ::_HOP]
    share = np.zeros(windows.shape[:2], np.float32)
    bins = np.zeros_like(share)
    at_y, at_x = np.nonzero(_fine(rows, windows.shape[1]))
    taper = np.hanning(_WINDOW).astype(np.float32)
    low, high = _BINS
    for first in range(0, len(at_y), _AT_ONCE):
        y, x = at_y[first : first + _AT_ONCE], at_x[first : first + _AT_ONCE]
        some = windows[y, x]
        some = (some - some.mean(axis=1, keepdims=True)) * taper
        power = np.abs(np.fft.rfft(some, axis=1)) ** 2
        total = power[:, 3:].sum(axis=1) + 1e-6
        peak = low + np.argmax(power[:, low : high + 1], axis=1)
        each = np.arange(len(peak))
        a, b, c = (np.sqrt(power[each, peak + d]) for d in (-1, 0, 1))
        shift = np.clip(np.where(b > np.maximum(a, c), (c - a) / np.maximum(2 * (2 * b - a - c), 1e-6), 0), -0.5, 0.5)
        twice = np.minimum(2 * peak, power.shape[1] - 3)
        held = a**2 + b**2 + c**2
        held += np.where(2 * peak < power.shape[1] - 2, sum(power[each, twice + d] for d in (-2, -1, 0, 1, 2)), 0)
        told = np.minimum(held / total, 1.0)
        share[y, x] = np.where(told > _LEAST_SHARE, told, 0)
        bins[y, x] = peak + shift
    return share, bins


def _fine(rows: Grey, windows: int) -> NDArray[np.bool_]:
    """Where (rows, windows) fine detail holds most of the detail and goes on in the row above or below, as ticks do
    and noise does not."""
    hops = rows.shape[1] // _HOP
    seen, fine = (
        np.ascontiguousarray(part[:, : hops * _HOP]).reshape(len(rows), hops, _HOP)
        for part in (rows, rows - cv2.blur(rows, (_LONGEST_PX, 1)))
    )
    level = seen.mean(axis=2)
    everything = np.einsum("ijk,ijk->ij", seen, seen) - _HOP * level**2
    held = np.einsum("ijk,ijk->ij", fine, fine)
    beside = np.pad(np.einsum("ijk,ijk->ij", fine[1:], fine[:-1]), ((1, 1), (0, 0)))
    goes_on = np.maximum(beside[1:], beside[:-1])
    held, everything, goes_on = (b[:, :windows] + b[:, 1 : windows + 1] for b in (held, everything, goes_on))
    least = _LEAST_LEVELS**2 * _LEAST_SHARE * _WINDOW
    return np.asarray((held > np.maximum(_FINE_SHARE * everything, least)) & (goes_on > _GOES_ON * held))
