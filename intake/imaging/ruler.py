"""A ruler in the frame: its ticks found by their period along a straight line, its unit by which of them are longer."""

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.check import Graduation, RulerRules
from intake.imaging.ruler_lines import MOST_CANDIDATES, Candidate, Grey, Read, candidates, grey_of
from intake.model import Box, Ruler

_TICK_PX = 9.0  # ticks are measured at about so many pixels each, where the file has them
_MOST_STRIP_PX = 12000
_PLAIN = 0.6


def find_rulers(overview: NDArray[np.uint8], whole: Box, read: Read, rules: RulerRules) -> list[Ruler]:
    """Return the rulers on the page ``whole``, the one with most ticks first; edges of one ruler are two.

    ``read`` gives a box of it in sRGB, at most so many pixels long. Told are only lines of ``least_ticks`` ticks or
    more whose longer ticks come as one of ``rules.graduations`` has them, so that perforations, screens and rules of
    print are none. Lines up to about four degrees off the scan's axes are looked along.
    """
    found = sorted(candidates(overview, whole, read, rules), key=lambda c: -c.score)
    seen: list[Ruler] = []
    for one in found[:MOST_CANDIDATES]:
        ruler = _verified(one, whole, read, rules)
        if ruler is not None and not any(_same(ruler, other) for other in seen):
            seen.append(ruler)
    return sorted(seen, key=lambda r: -r.ticks)


def _same(a: Ruler, b: Ruler) -> bool:
    wide = min(a.box.left + a.box.width, b.box.left + b.box.width) - max(a.box.left, b.box.left)
    high = min(a.box.top + a.box.height, b.box.top + b.box.height) - max(a.box.top, b.box.top)
    return wide > 0 and high > 0


def _verified(one: Candidate, whole: Box, read: Read, rules: RulerRules) -> Ruler | None:
    """The ruler along a candidate, when its ticks are even and its longer ones come as a graduation has them."""
    strip, back, period = _strip(one, whole, read)
    if strip is None:
        return None
    best: tuple[int, Ruler] | None = None
    for dark in (True, False):
        view = strip if dark else 255 - strip
        ticks = _ticks(view, period, rules)
        if ticks is None:
            continue
        places, numbers, zone = ticks
        fit = _fit(places, numbers, rules)
        if fit is None:
            continue
        step, off = fit
        lengths = _lengths(view, places, step, zone)
        for graduation in rules.graduations:
            if not _graded(lengths, numbers, graduation, rules):
                continue
            a, b = (_stored(back, (float(places[n]), (zone[0] + zone[1]) / 2)) for n in (0, -1))
            px_per_mm = math.dist(a, b) / float(places[-1] - places[0]) * step / graduation.tick_mm
            reach = float(np.max(lengths)) * math.dist(a, b) / float(places[-1] - places[0])
            seen = Ruler(graduation.name, px_per_mm, off, len(places), _box(a, b, reach, whole))
            if best is None or len(graduation.steps) > best[0]:
                best = len(graduation.steps), seen
    return best[1] if best else None


def _strip(one: Candidate, whole: Box, read: Read) -> tuple[Grey | None, NDArray[np.float64], float]:
    """A candidate's line with what is beside it, laid along x; the matrix back to stored pixels; the period in it."""
    (x0, y0), (x1, y1) = one.start, one.end
    across = 14 * one.period
    along = 0.06 * math.dist(one.start, one.end)
    left, top = max(0, int(min(x0, x1) - across)), max(0, int(min(y0, y1) - across))
    right = min(whole.width, round(max(x0, x1) + across) + 1)
    bottom = min(whole.height, round(max(y0, y1) + across) + 1)
    if right - left < 16 or bottom - top < 16:
        return None, np.eye(3), 0.0
    box = Box(left, top, right - left, bottom - top)
    factor = max(1.0, one.period / _TICK_PX, max(box[2:]) / _MOST_STRIP_PX)
    seen = grey_of(read(box, round(max(box[2:]) / factor)))
    scale = max(box[2:]) / max(seen.shape)
    turn = math.atan2(y1 - y0, x1 - x0)
    length = (math.dist(one.start, one.end) + 2 * along) / scale
    size = (max(2, round(length)), max(2, round(2 * across / scale)))
    cos, sin = math.cos(turn), math.sin(turn)
    # from the strip to what was read: along the line from a little before its start, and to both sides of it
    x, y = (x0 - along * cos - left) / scale, (y0 - along * sin - top) / scale
    half = size[1] / 2
    onto = np.array([[cos, -sin, x + sin * half], [sin, cos, y - cos * half], [0, 0, 1]], np.float64)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    strip = cv2.warpAffine(seen, onto[:2], size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    back = np.array([[scale, 0, left], [0, scale, top], [0, 0, 1]], np.float64) @ onto
    return np.asarray(strip, np.float32), back, one.period / scale


def _ticks(
    strip: Grey, period: float, rules: RulerRules
) -> tuple[NDArray[np.float64], NDArray[np.intp], tuple[int, int]] | None:
    """Places and numbers of the ticks along the strip (dark on light), and the rows that all of them cross."""
    rows = strip - cv2.blur(strip, (max(3, round(3 * period)) | 1, 1))
    window = np.hanning(rows.shape[1]).astype(np.float32)
    spectrum = np.fft.rfft(rows * window, axis=1)
    at = rows.shape[1] / period
    low, high = math.floor(at * 0.92), min(math.ceil(at * 1.08), spectrum.shape[1] - 2)
    if low < 4 or high <= low:
        return None
    power = np.abs(spectrum[:, low : high + 1])
    middle = len(rows) // 2
    near = slice(max(0, middle - round(4 * period)), middle + round(4 * period) + 1)
    best = low + int(np.argmax((power[near] ** 2).sum(axis=0)))
    tall = np.abs(spectrum[:, best - 1 : best + 2]).max(axis=1)
    top = int(np.argmax(tall[near])) + (near.start or 0)
    first = last = top
    while first > 0 and tall[first - 1] > _PLAIN * tall[top]:
        first -= 1
    while last < len(tall) - 1 and tall[last + 1] > _PLAIN * tall[top]:
        last += 1
    profile = rows[first : last + 1].mean(axis=0)
    step = rows.shape[1] / best
    phase = -float(np.angle(np.fft.rfft(profile * window)[best])) / (2 * math.pi)
    # dark ticks are the lows of the wave
    begin = (phase + 0.5) % 1.0 * step
    places, depths = [], []
    place = begin
    while place < len(profile) - 0.5 * step:
        a, b = max(0, round(place - 0.4 * step)), min(len(profile), round(place + 0.4 * step) + 1)
        c, d = max(0, round(place - 0.7 * step)), min(len(profile), round(place + 0.7 * step) + 1)
        dark = np.maximum(float(profile[c:d].max()) - profile[a:b], 0)
        dark = np.maximum(dark - 0.5 * float(dark.max()), 0)
        weight = float(dark.sum())
        found = a + float((dark * np.arange(b - a)).sum()) / weight if weight > 0 else place
        places.append(found)
        depths.append(float(profile[c:d].max() - profile[a:b].min()))
        # the ticks are followed, so that a small error of the period does not add up
        place = found + step if abs(found - place) < 0.25 * step else place + step
    if len(places) < rules.least_ticks:
        return None
    there = np.array(depths) > rules.tick_depth * float(np.percentile(depths, 70))
    start, end = _longest(there)
    if end - start < rules.least_ticks:
        return None
    return np.array(places[start:end]), np.arange(start, end), (first, last)


def _longest(there: NDArray[np.bool_]) -> tuple[int, int]:
    """Start and end of the longest run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], there.astype(np.int8), [0]])))
    if not len(edges):
        return 0, 0
    starts, ends = edges[::2], edges[1::2]
    n = int(np.argmax(ends - starts))
    return int(starts[n]), int(ends[n])


def _fit(places: NDArray[np.float64], numbers: NDArray[np.intp], rules: RulerRules) -> tuple[float, float] | None:
    """The step from tick to tick and the share that it may be off by; None when the ticks are not even.

    Off by: three standard errors of the step, the change of the step along the ruler (a camera that is not square to
    it), and what lies above the paper's plane, as squares.
    """
    keep = np.ones(len(places), bool)
    for _ in range(3):
        line = np.polyfit(numbers[keep], places[keep], 1)
        away = np.abs(places - np.polyval(line, numbers))
        keep = away <= max(0.3, 3 * float(np.median(away)))
    step = float(line[0])
    spread = float(np.std((places - np.polyval(line, numbers))[keep]))
    if keep.mean() < rules.even_share or spread > rules.uneven_share * step:
        return None
    n = numbers[keep] - numbers[keep].mean()
    error = 3 * spread / math.sqrt(float((n * n).sum())) / step
    bend = abs(float(np.polyfit(n, places[keep], 2)[0])) * len(places) / step
    return step, math.hypot(error, bend, rules.plane_share)


def _lengths(strip: Grey, places: NDArray[np.float64], step: float, zone: tuple[int, int]) -> NDArray[np.float64]:
    """How far each tick reaches beyond the rows ``zone`` that all cross, to the side on which they differ more."""
    columns = np.arange(strip.shape[1])
    half = step / 2

    def read_at(x: NDArray[np.float64]) -> Grey:
        return np.stack([np.interp(x, columns, row) for row in strip]).astype(np.float32)

    tick = np.minimum(read_at(places - 0.5), read_at(places + 0.5))
    gap = np.maximum(read_at(places - half), read_at(places + half))
    depth = gap - tick
    own = np.maximum(np.median(depth[zone[0] : zone[1] + 1], axis=0), 1e-3)
    there = depth > 0.4 * own
    middle = (zone[0] + zone[1]) // 2
    up, down = _reach(there[middle::-1]), _reach(there[middle:])
    return up if up.std() > down.std() else down


def _reach(there: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Rows until each column is False for the first time."""
    ends = np.argmin(there, axis=0)
    return np.where(there.all(axis=0), len(there), ends).astype(np.float64)


def _graded(lengths: NDArray[np.float64], numbers: NDArray[np.intp], graduation: Graduation, rules: RulerRules) -> bool:
    """Do the longer ticks come as ``graduation`` has them, counted from any tick?"""
    return any(
        _ranked(lengths, _ranks(numbers - phase, graduation.steps), rules) for phase in range(graduation.steps[0])
    )


def _ranks(numbers: NDArray[np.intp], steps: Sequence[int]) -> NDArray[np.intp]:
    ranks = np.zeros(len(numbers), np.intp)
    for rank, step in enumerate(reversed(steps), start=1):
        ranks[numbers % step == 0] = rank
    return ranks


def _ranked(lengths: NDArray[np.float64], ranks: NDArray[np.intp], rules: RulerRules) -> bool:
    """Is each rank longer than the one below it, and nearly every tick nearest to its own rank's length?"""
    most = int(ranks.max())
    groups = [lengths[ranks == r] for r in range(most + 1)]
    if any(len(g) < 2 for g in groups) or len(groups[-1]) < rules.least_majors:
        return False
    usual = np.array([float(np.median(g)) for g in groups])
    if (np.diff(usual) < np.maximum(rules.longer_share * usual[0], 0.8)).any():
        return False
    nearest = np.argmin(np.abs(lengths[:, None] - usual[None]), axis=1)
    return min(float((nearest[ranks == r] == r).mean()) for r in range(most + 1)) >= rules.graded_share


def _stored(back: NDArray[np.float64], point: tuple[float, float]) -> tuple[float, float]:
    # a pixel's middle is half a pixel into it, on both pictures
    x, y = (back @ np.array([point[0] + 0.5, point[1] + 0.5, 1.0]))[:2].tolist()
    return x, y


def _box(a: tuple[float, float], b: tuple[float, float], reach: float, whole: Box) -> Box:
    left, top = max(0, int(min(a[0], b[0]) - reach)), max(0, int(min(a[1], b[1]) - reach))
    right = min(whole.width, round(max(a[0], b[0]) + reach) + 1)
    bottom = min(whole.height, round(max(a[1], b[1]) + reach) + 1)
    return Box(left, top, right - left, bottom - top)
