"""Printing screens in a picture: lattices of dots, told by pairs of sharp peaks at right angles in the spectrum."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_LOWEST, _HIGHEST = 0.05, 0.46  # cycles a pixel: dots of 2.2 to 20 pixels
_BLOCK = 16  # JPEG codes blocks of 8 pixels, its colour often at half the scale (ITU-T T.81): its seams are no screen
_MOST = 14
_RINGS_A_BIN = 0.5
_BEAT = 0.004  # cycles a pixel
_ALONE = 5  # multiples of one ink's rows that are looked at where there is no other
_SAME_BINS = 2.5  # two peaks nearer than this are one

Spectrum = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Lattice:
    """Rows of dots: their distance in pixels, their angle (0 up to 90 degrees, anticlockwise), and how clear they are.

    ``strength`` is the weaker of its two peaks over the median of the spectrum at that frequency.
    """

    period_px: float
    angle_deg: float
    strength: float


def spectrum(tiles: Sequence[NDArray[np.uint8]]) -> Spectrum:
    """Return the mean power spectrum of tiles (n, n), each held against its own fall-off, so that 1 is no structure.

    Only one half is there, as in ``rfft2``; what lies outside the band of dots, and the seams of JPEG blocks, is 0.
    """
    side = tiles[0].shape[0]
    window = np.hanning(side).astype(np.float32)
    fy, fx = np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :]
    radius = np.hypot(fx, fy)
    ring = np.round(radius * side * _RINGS_A_BIN).astype(np.intp)
    band = (radius >= _LOWEST) & (radius <= _HIGHEST)
    order = np.argsort(ring[band], kind="stable")
    bounds = np.flatnonzero(np.diff(ring[band][order])) + 1
    total = np.zeros(radius.shape, np.float64)
    for tile in tiles:
        wave = tile.astype(np.float32)
        power = np.abs(np.fft.rfft2((wave - wave.mean()) * window[:, None] * window)) ** 2
        of = power[band]
        level = np.empty_like(of)
        for part in np.split(order, bounds):
            level[part] = np.median(of[part])
        total[band] += of / np.maximum(level, 1e-3)
    total[_seams(fx, fy, side)] = 0
    return (total / len(tiles)).astype(np.float32)


def find_lattices(power: Spectrum, least: float) -> list[Lattice]:
    """Return the lattices of a ``spectrum``, the clearest first, whose weaker peak is ``least`` or higher, at most 14.

    Each is a peak with another of like height a quarter turn from it; sums and multiples of both are its harmonics.
    """
    side = power.shape[0]
    left = power.copy()
    found: list[Lattice] = []
    vectors: list[tuple[float, float]] = []
    for _ in range(4 * _MOST):
        at = np.unravel_index(int(np.argmax(left)), left.shape)
        if left[at] < least or len(found) == _MOST:
            break
        x, y = _refined(power, int(at[1]), int(at[0]))
        _clear(left, x, y)
        other = _height(power, -y, x)
        if other < least or any(_is_harmonic((x, y), v) for v in vectors):
            continue
        vectors.append((x, y))
        _clear(left, -y, x)
        angle = float(np.degrees(np.arctan2(-y, x))) % 90
        found.append(Lattice(side / float(np.hypot(x, y)), angle, float(min(other, _height(power, x, y)))))
    return sorted(found, key=lambda one: -one.strength)


def _seams(fx: NDArray[np.floating], fy: NDArray[np.floating], side: int) -> NDArray[np.bool_]:
    """Where the seams of blocks show: at multiples of one block along both axes."""

    def near(f: NDArray[np.floating]) -> NDArray[np.bool_]:
        return np.asarray(np.abs(f * _BLOCK - np.round(f * _BLOCK)) < 1.6 * _BLOCK / side)

    return near(fx) & near(fy)


def _refined(power: Spectrum, column: int, row: int) -> tuple[float, float]:
    """The peak's place in bins (x, y), between bins by a parabola through its neighbours' logarithms."""
    side = power.shape[0]
    here = np.log(max(1e-3, float(power[row, column])))

    def offset(before: float, after: float) -> float:
        a, b = np.log(max(1e-3, before)), np.log(max(1e-3, after))
        bend = a - 2 * here + b
        return float(np.clip(0.5 * (a - b) / bend, -0.5, 0.5)) if bend < -1e-6 else 0.0

    x = column + offset(_at(power, column - 1, row), _at(power, column + 1, row))
    y = row + offset(_at(power, column, row - 1), _at(power, column, row + 1))
    return x, y - side if y > side / 2 else y


def _at(power: Spectrum, column: int, row: int) -> float:
    """The spectrum at whole bins, any half: a real picture's is the same at the opposite place."""
    if column < 0:
        column, row = -column, -row
    return float(power[row % power.shape[0], min(column, power.shape[1] - 1)])


def _height(power: Spectrum, x: float, y: float) -> float:
    """The highest value within a bin and a half of a place."""
    return max(_at(power, round(x) + i, round(y) + j) for i in (-1, 0, 1) for j in (-1, 0, 1))


def _clear(power: Spectrum, x: float, y: float) -> None:
    reach = int(np.ceil(_SAME_BINS))
    for way in (1, -1):
        column, row = round(way * x), round(way * y)
        for i in range(-reach, reach + 1):
            if 0 <= column + i < power.shape[1]:
                rows = np.arange(row - reach, row + reach + 1) % power.shape[0]
                power[rows, column + i] = 0


def _is_harmonic(peak: tuple[float, float], base: tuple[float, float]) -> bool:
    """Tell whether a peak is a sum of small multiples of a lattice's two vectors."""
    x, y = base
    long = x * x + y * y
    a, b = (peak[0] * x + peak[1] * y) / long, (peak[1] * x - peak[0] * y) / long
    away = np.hypot(a - round(a), b - round(b)) * np.sqrt(long)
    return bool(away < _SAME_BINS and (round(a), round(b)) != (0, 0))


def is_beat(one: Lattice, others: Sequence[Lattice]) -> bool:
    """Tell whether a lattice is only the beat of others: a sum of two of their rows, each once or twice.

    What would lie beyond half a cycle a pixel comes back folded, as sampling does it (Nyquist).
    """
    most = _ALONE if len(others) == 1 else 2
    steps = np.array([(a, b) for a in range(-most, most + 1) for b in range(-most, most + 1)])
    own = [steps @ np.array(_rows(other)[:2]) for other in others]
    rows = np.array([(k * x, k * y) for other in others for x, y in _rows(other) for k in (1, 2)]).reshape(-1, 2)
    sums = (rows[:, None] + rows[None, :]).reshape(-1, 2)
    away = np.concatenate([*own, sums]) - np.array(_rows(one)[0])
    away -= np.round(away)
    return bool(len(others) and np.hypot(*away.T).min() < (2 if most == _ALONE else 1) * _BEAT)


def _rows(one: Lattice) -> list[tuple[float, float]]:
    """A lattice's frequencies, four ways, in cycles a pixel."""
    x = float(np.cos(np.radians(one.angle_deg))) / one.period_px
    y = float(np.sin(np.radians(one.angle_deg))) / one.period_px
    return [(x, y), (-y, x), (-x, -y), (y, -x)]
