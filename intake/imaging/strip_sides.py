"""The sides of an even ground on a sheet: where each ends, how straight, and whether a shadow lies beside it."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Point = tuple[float, float]
_SAMPLES = 200
_LEAST = 12
_REACH = 6
_ROUNDS = 8
_NEAR_PX = 0.8
_LIGHT = 8.0  # levels: what is darker than this tells no shadow
_FADE = np.arange(2.0, 18.0)  # px outside of a side
_REACHES = (2.5, 4.0, 6.0)
_DARKER = 0.05
_MOST_FADE = 6.0


@dataclass(frozen=True, slots=True)
class Sided:
    """One side: its ends, the share of it that is straight, and its turn in degrees off the nearest axis."""

    start: Point
    end: Point
    straight: float
    turn: float


def in_rows(plane: Floats, start: Point, end: Point, steps: NDArray[np.float64], count: int) -> Floats:
    """(count, steps, 3) from places along a line and ``steps`` pixels off it, to the right of who walks it."""
    along = np.array(end) - start
    length = max(1e-6, float(np.hypot(*along)))
    normal = np.array([-along[1], along[0]]) / length
    at = start + np.linspace(0, 1, count)[:, None] * along
    places = (at[:, None, :] + steps[None, :, None] * normal).astype(np.float32)
    return np.asarray(
        cv2.remap(plane, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
    )


def ends_of(soft: Floats, start: Point, end: Point, tone: Floats, even_levels: float) -> Sided | None:
    """The line where a ground of ``tone`` ends near the line from start to end, outside to its right; None where no
    such end is seen. A robust fit (iteratively reweighted least squares, Tukey's weights) to below a pixel."""
    first, last = _within(start, end, 0.03)
    away = np.abs(in_rows(soft, first, last, np.arange(-_REACH, _REACH + 1.0), _SAMPLES) - tone).max(axis=2)
    limit = 0.8 * even_levels
    beyond = away > limit
    crossing = beyond.argmax(axis=1)
    held = np.flatnonzero((away[:, :4].max(axis=1) < even_levels) & (crossing > 0))
    if len(held) < _LEAST:
        return None
    before, after = away[held, crossing[held] - 1], away[held, crossing[held]]
    at = crossing[held] - 1 + np.clip((limit - before) / np.maximum(1e-3, after - before), 0, 1) - _REACH
    place = np.linspace(0, 1, _SAMPLES)[held]
    weights = np.ones(len(held))
    for _ in range(_ROUNDS):
        fitted = np.polyfit(place, at, 1, w=np.sqrt(weights) + 1e-6)
        miss = np.abs(np.polyval(fitted, place) - at)
        weights = np.clip(1 - (miss / 1.5) ** 2, 0, 1) ** 2 + 1e-4
    along = np.array(last) - first
    normal = np.array([-along[1], along[0]]) / max(1e-6, float(np.hypot(*along)))
    one, two = (np.array(p) + np.polyval(fitted, x) * normal for p, x in ((first, 0.0), (last, 1.0)))
    turn = (math.degrees(math.atan2(two[1] - one[1], two[0] - one[0])) + 45) % 90 - 45
    straight = float((miss < _NEAR_PX).sum()) / _SAMPLES
    return Sided((float(one[0]), float(one[1])), (float(two[0]), float(two[1])), straight, turn)


def shade_beside(sharp: Floats, side: Sided) -> tuple[float, float]:
    """The share of a side beside which it is darker than both the ground and what lies further out; and how much more
    than chance the light there fades towards the side as a shadow's does, in standard errors."""
    return _darker(sharp, side), _fading(sharp, side)


def _darker(sharp: Floats, side: Sided) -> float:
    light = _light(sharp, side, np.arange(-7.0, 15.0), 1)
    if len(light) > 30:
        light = np.asarray(cv2.blur(light, (1, 3)), np.float32)
    within, far = float(np.median(light[:, :6])), light[:, 14:]
    pairs = (light[:, 7:12] + light[:, 8:13]) / 2
    dip = np.minimum(far.mean(axis=1), within) - pairs.min(axis=1)
    weights = 1 / (0.04 + far.std(axis=1)) ** 2
    return float((weights * (dip > _DARKER)).sum() / weights.sum())


def _fading(sharp: Floats, side: Sided) -> float:
    """A level, a slope and a shadow's shape are fitted to every profile outwards; the shadow's share is taken over the
    whole side, places with little drawing counting most."""
    light = _light(sharp, side, _FADE, 2)
    best = 0.0
    for design, solve in _SHAPES:
        solved = light @ solve.T
        weights = 1 / (0.03 + (light - solved @ design.T).std(axis=1)) ** 2
        middle = _weighted_median(-solved[:, 2], weights)
        spread = 1.48 * _weighted_median(np.abs(-solved[:, 2] - middle), weights) + 0.02
        count = max(1.0, float(weights.sum() ** 2 / (weights**2).sum()) / 3)  # neighbours are not independent
        value = middle * math.sqrt(count) / (1.2 * spread)
        best = value if abs(value) > abs(best) else best
    return max(-_MOST_FADE / 2, min(_MOST_FADE, best))


def _light(sharp: Floats, side: Sided, steps: NDArray[np.float64], every_px: int) -> Floats:
    """(n, steps) log light outwards from a side."""
    first, last = _within(side.start, side.end, 0.03)
    count = int(np.clip(math.dist(first, last) / every_px, _LEAST, 240))
    grey = in_rows(sharp, first, last, steps, count) @ np.array([0.299, 0.587, 0.114], np.float32)
    return np.asarray(np.log(np.maximum(grey, 0) + _LIGHT), np.float32)


def _shapes() -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    made = []
    out = _FADE - 0.5
    for reach in _REACHES:
        shade = np.array([0.5 * math.erfc((o - reach) / (0.7 * reach)) for o in out])
        design = np.stack([np.ones_like(out), (out - 9) / 8, shade], axis=1)
        made.append((design, np.linalg.pinv(design)))
    return made


_SHAPES = _shapes()


def _within(start: Point, end: Point, share: float) -> tuple[Point, Point]:
    """The line without so much of either end."""
    (x0, y0), (x1, y1) = start, end
    dx, dy = share * (x1 - x0), share * (y1 - y0)
    return (x0 + dx, y0 + dy), (x1 - dx, y1 - dy)


def _weighted_median(values: NDArray[np.floating], weights: NDArray[np.floating]) -> float:
    order = np.argsort(values)
    summed = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(summed, summed[-1] / 2)])
