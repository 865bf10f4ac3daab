"""Straight lines that run across a whole sheet and look the same wherever they pass: shading along a fold.

A fold darkens and lightens paper and ink alike, in the picture, through type and in the margins. So the profile across
it, in log of the code values, is the same in every stretch of the line, while what is printed differs from stretch to
stretch, or ends with the picture.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.float32]
# added to code values (0 to 255) before the logarithm, so that black does not outweigh all else
_DARK = 8.0
# noise of a profile, in log units: quieter stretches do not count for more
_NOISE = 0.006
_COARSE_MM, _FINE_MM = 8.0, 2.0
# profiles reach so far to both sides of the line
_REACH_MM = 5.0
_APART_MM = 4.0
_LEAST, _MOST = 0.2, 24
# strips of a rim: the first fine stretch of each, and how many it has
_RIM_FIRST, _RIM_STRETCHES = (1, 2, 3, 4), 2
# lines nearer to the edges than this share are the borders'
_RIM = 0.1
_STEP_MM = (5.0, 9.0)
# depths in log units: of a line on paper, of one hardly seen, of one that is more than shading; a rim without print
_RIM_DEPTH, _SHALLOW, _DEEP, _QUIET = 0.022, 0.025, 0.05, 0.002
# a fold strays from its straight line by so much, and so much more where the sheet ends
_WANDER_MM, _RIM_WANDER_MM = 1.5, 3.0


@dataclass(frozen=True, slots=True)
class Trace:
    """A line that may be a fold. ``at`` is its place as a share of the edge that it crosses.

    ``alike``: likeness (-1 to 1) of the stretches' profiles to one another, ``weakest`` that of the second weakest
    sixth; ``depth``: the middle profile's root mean square, in log units; ``spread``: how far the stretches' own depths
    scatter, in depths; ``step``: by how much the tone differs from side to side for good. ``rims_alike``: likeness of
    the profiles on the sheet's two rims to one another, whatever is printed between them; ``rim_depth`` their depths,
    and ``rim_noise`` what else is on them.
    """

    at: float
    alike: float
    weakest: float
    depth: float
    spread: float
    step: float
    rims_alike: float
    rim_depth: tuple[float, float]
    rim_noise: tuple[float, float]

    @property
    def measures(self) -> dict[str, float]:
        """What is weighed of it (see config/fold.toml); lengths that span decades as logarithms, within bounds."""
        return {
            "alike": self.alike,
            "weakest": self.weakest,
            "deep": _log(self.depth / _DEEP, 0, 3),
            "shallow": _log(self.depth / _SHALLOW, -2, 0),
            "spread": _log(self.spread / 0.5, -2, 1),
            "step": min(self.step, 0.3),
            "rims_alike": self.rims_alike,
            "rims_deep": max(abs(_log(depth / _RIM_DEPTH, -2.5, 2.5)) for depth in self.rim_depth),
        }

    @property
    def is_held_in(self) -> bool:
        """Does it end where the picture does: are both rims quiet, and without it?"""
        return max(self.rim_noise) < 3 * _QUIET and max(self.rim_depth) < 0.4 * _RIM_DEPTH


def _log(value: float, low: float, high: float) -> float:
    return min(high, max(low, math.log(max(value, 1e-3))))


def log_tone(image: NDArray[np.uint8]) -> Picture:
    """Return the logarithm of an (h, w, 3) image's grey, (h, w)."""
    levels = np.log(np.arange(256, dtype=np.float32) + np.float32(_DARK))
    return np.asarray(levels[cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)], np.float32)


def traces(tone: Picture, px_per_mm: float) -> list[Trace]:
    """Return what may be folds along the columns of ``tone`` (h, w), by place. Transpose it for those along rows."""
    reach = max(3, round(_REACH_MM * px_per_mm))
    coarse, fine = (_stretches(tone, px_per_mm, mm) for mm in (_COARSE_MM, _FINE_MM))
    wide = tone.shape[1]
    if wide < 6 * reach or len(coarse) < 6:
        return []
    alike = _alike(coarse, reach)
    places = (np.arange(len(alike)) + reach) / (wide - 1)
    alike[(places < _RIM) | (places > 1 - _RIM)] = 0
    found: list[Trace] = []
    apart = max(2, round(_APART_MM * px_per_mm))
    while len(found) < _MOST:
        best = int(alike.argmax())
        if alike[best] < _LEAST:
            break
        found.append(_trace(coarse, fine, best + reach, reach, px_per_mm))
        alike[max(0, best - apart) : best + apart + 1] = 0
    # one line is found from several places beside it: the surest stands
    kept: list[Trace] = []
    for trace in sorted(found, key=lambda t: -t.alike):
        if all(abs(trace.at - other.at) * (wide - 1) > apart for other in kept):
            kept.append(trace)
    return sorted(kept, key=lambda t: t.at)


def _stretches(tone: Picture, px_per_mm: float, stretch_mm: float) -> Picture:
    """Return the mean tone of stretches of the columns, (stretches, w)."""
    count = max(6, round(tone.shape[0] / px_per_mm / stretch_mm))
    return np.asarray(cv2.resize(tone, (tone.shape[1], count), interpolation=cv2.INTER_AREA), np.float32)


def _alike(tone: Picture, reach: int) -> NDArray[np.float32]:
    """Length of the mean unit profile at every place that has ``reach`` on both sides."""
    made = np.empty(tone.shape[1] - 2 * reach, np.float32)
    for first in range(0, len(made), 256):
        last = min(len(made), first + 256)
        profiles = np.lib.stride_tricks.sliding_window_view(tone[:, first : last + 2 * reach], 2 * reach + 1, axis=1)
        made[first:last] = np.linalg.norm(_unit(_level(profiles)).mean(axis=0), axis=-1)
    return made


def _level(profiles: Picture) -> Picture:
    """Take mean and slope off the profiles, along the last axis."""
    count = profiles.shape[-1]
    away = np.arange(count, dtype=np.float32) - (count - 1) / 2
    slope = (profiles @ away / (away @ away))[..., None]
    return np.asarray(profiles - profiles.mean(axis=-1, keepdims=True) - slope * away, np.float32)


def _unit(profiles: Picture, noise: float = _NOISE) -> Picture:
    square = np.einsum("...i,...i->...", profiles, profiles) + np.float32(noise**2 * profiles.shape[-1])
    return np.asarray(profiles / np.sqrt(square)[..., None], np.float32)


def _trace(coarse: Picture, fine: Picture, at: int, reach: int, px_per_mm: float) -> Trace:
    slack = round(_WANDER_MM * px_per_mm)
    level = _level(_windows(coarse, at, reach, slack))
    unit = _unit(level)
    pattern, rows = unit[:, slack].mean(axis=0), np.arange(len(unit))
    for _ in range(2):
        shift = np.argmax(unit @ pattern, axis=1)
        pattern = unit[rows, shift].mean(axis=0)
    level, unit = level[rows, shift], unit[rows, shift]
    others = pattern[None] * len(unit) - unit
    like = np.einsum("ij,ij->i", unit, others) / np.maximum(np.linalg.norm(others, axis=1), 1e-6)
    sixths = sorted(float(part.mean()) for part in np.array_split(like, 6))
    middle = np.median(level, axis=0)
    gains = level @ middle / max(float(middle @ middle), 1e-9)
    near, far = (round(mm * px_per_mm) for mm in _STEP_MM)
    before, after = coarse[:, max(0, at - far) : at - near + 1], coarse[:, at + near : at + far + 1]
    step = abs(float(np.median(after.mean(axis=1) - before.mean(axis=1))))
    (one, noise), (other, other_noise) = (_rim(side, at, reach, px_per_mm) for side in (fine, fine[::-1]))
    both = _unit(one, max(_NOISE, noise)) @ _unit(other, max(_NOISE, other_noise)).T
    first, second = np.unravel_index(both.argmax(), both.shape)
    place = at + float(np.mean(shift - slack)) + _crest(coarse, at, reach, slack, shift, px_per_mm)
    return Trace(
        place / (coarse.shape[1] - 1),
        float(like.mean()),
        sixths[1],
        _depth(middle),
        float(np.median(np.abs(gains - np.median(gains)))),
        step,
        float(both.max()),
        (_depth(one[first]), _depth(other[second])),
        (noise, other_noise),
    )


def _crest(coarse: Picture, at: int, reach: int, slack: int, shift: NDArray[np.intp], px_per_mm: float) -> float:
    """Where tone changes fastest, in pixels from the middle of the profile: the crest, between light and shade."""
    wide = 2 * reach
    middle = np.median(_level(_windows(coarse, at, wide, slack)[np.arange(len(coarse)), shift]), axis=0)
    soft = cv2.GaussianBlur(middle[None].astype(np.float32), (0, 0), max(0.4, 0.4 * px_per_mm))[0]
    change = np.abs(np.diff(soft))[reach : 3 * reach]
    return float(int(change.argmax()) + 0.5 - reach)


def _windows(tone: Picture, at: int, reach: int, slack: int) -> Picture:
    """Profiles about ``at``, shifted by up to ``slack``: (stretches, shifts, places). The tone is held at its ends."""
    columns = np.clip(np.arange(at - reach - slack, at + reach + slack + 1), 0, tone.shape[1] - 1)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(tone[:, columns], 2 * reach + 1, axis=1), np.float32)


def _rim(tone: Picture, at: int, reach: int, px_per_mm: float) -> tuple[Picture, float]:
    """Profiles, (shifts, places), on the rim that ``tone`` begins with, and the noise there. Borders are narrow or
    wide, with print or without: the quietest strip of the rim is taken."""
    strips = [tone[first : first + _RIM_STRETCHES] for first in _RIM_FIRST]
    beside = [[_level(_windows(strip, at + side * 3 * reach, reach, 0))[:, 0] for side in (-1, 1)] for strip in strips]
    noises = [float(np.sqrt(np.median([(b * b).mean(axis=1) for b in both]))) for both in beside]
    quietest = strips[int(np.argmin(noises))]
    level = _level(_windows(quietest, at, reach, round(_RIM_WANDER_MM * px_per_mm)))
    return np.asarray(level.mean(axis=0), np.float32), min(noises)


def _depth(profile: Picture) -> float:
    return float(np.sqrt((profile * profile).mean()))
