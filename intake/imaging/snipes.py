"""Strips pasted on a single sheet (snipes), told without a second picture: by a straight-sided ground of a tone of its
own, the shadow beside its edges, and that it lies a little askew.

A printed panel has straight sides and even ground too; it casts no shadow, is square to the sheet, and is mostly of the
sheet's own paper or inks. No sign decides by itself; the sum is a place to look at.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.snipe import SnipeRules

Floats = NDArray[np.float32]
_STEP = 16
_TONES = 16
_OUT_PX = 14
_SAMPLES = 160


@dataclass(frozen=True, slots=True)
class Snipe:
    """A place that may be a strip pasted on: left, top, width, height in pixels of the picture, and how sure that
    is."""

    box: tuple[float, float, float, float]
    certainty: float
    words: str


def find_snipes(picture: NDArray[np.uint8], rules: SnipeRules) -> list[Snipe]:
    """Places on a printed sheet that may be pasted strips, the surest first.

    ``picture`` is (h, w, 3) RGB; it is looked at no larger than ``rules.look_px``.
    """
    scale = min(1.0, rules.look_px / max(picture.shape[:2]))
    seen = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), 0.6)
    found: list[Snipe] = []
    for corners, measured in candidates(seen, rules):
        odds = rules.start + sum(rules.weights[name] * value for name, value in measured.items())
        sure = 1 / (1 + math.exp(-max(-30.0, min(30.0, odds))))
        if sure < rules.shown:
            continue
        left, top = corners.min(axis=0) / scale
        right, bottom = corners.max(axis=0) / scale
        box = (float(left), float(top), float(right - left), float(bottom - top))
        if not any(_overlap(box, other.box) > 0.5 for other in found):
            found.append(Snipe(box, round(sure, 4), _words(measured)))
    return sorted(found, key=lambda s: -s.certainty)


def candidates(seen: Floats, rules: SnipeRules) -> list[tuple[NDArray[np.float64], dict[str, float]]]:
    """Straight-sided grounds: their four corners (4, 2) and what was measured of each (the keys of
    ``rules.weights``)."""
    tones = _tones(seen)
    grey = seen @ np.array([0.299, 0.587, 0.114], np.float32)
    made = []
    h, w = grey.shape
    for number, tone in enumerate(tones):
        ground = (np.abs(seen - tone).max(axis=2) < rules.even_levels).astype(np.uint8)
        letters = max(7, round(rules.letters * max(h, w))) | 1
        closed = cv2.morphologyEx(ground, cv2.MORPH_CLOSE, np.ones((letters, letters), np.uint8), borderValue=0)
        closed = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
        outlines, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        for outline in outlines:
            rectangle = cv2.minAreaRect(outline)
            (_, _), (one, other), _ = rectangle
            long, short = max(one, other), min(one, other)
            if not (
                rules.least_long * max(h, w) <= long <= 0.98 * max(h, w)
                and short >= rules.least_short * max(h, w)
                and long >= rules.least_aspect * short
                and cv2.contourArea(outline) >= rules.least_fill * one * other
            ):
                continue
            corners = np.asarray(cv2.boxPoints(rectangle), np.float64)
            made.append((corners, _measured(grey, corners, tone, [t for n, t in enumerate(tones) if n != number])))
    return made


def _tones(seen: Floats) -> list[Floats]:
    """The commonest tones of even places."""
    h, w = (n // _STEP * _STEP for n in seen.shape[:2])
    fields = seen[:h, :w].reshape(h // _STEP, _STEP, w // _STEP, _STEP, 3)
    middle = np.median(fields, axis=(1, 3)).reshape(-1, 3)
    spread = (
        np.median(np.abs(fields - middle.reshape(h // _STEP, 1, w // _STEP, 1, 3)), axis=(1, 3)).max(axis=-1).ravel()
    )
    even = middle[spread < 6]
    tones: list[Floats] = []
    while len(even) >= 3 and len(tones) < _TONES:
        coarse = np.round(even / 12).astype(np.int64)
        _, index, counts = np.unique(coarse, axis=0, return_inverse=True, return_counts=True)
        tone = np.median(even[index.ravel() == counts.argmax()], axis=0)
        tones.append(tone.astype(np.float32))
        even = even[np.abs(even - tone).max(axis=1) > 14]
    return tones


def _measured(grey: Floats, corners: NDArray[np.float64], tone: Floats, others: list[Floats]) -> dict[str, float]:
    dips, steady = [], []
    middle = corners.mean(axis=0)
    for k in range(4):
        start, end = corners[k], corners[(k + 1) % 4]
        dip, share = _dip(grey, start, end, middle)
        dips.append(dip)
        steady.append(share)
    pairs = [(dips[k] + dips[(k + 1) % 4]) / 2 for k in range(4)]
    best = int(np.argmax(pairs))
    edge = max(((corners[(k + 1) % 4] - corners[k]) for k in range(4)), key=lambda v: float(np.hypot(*v)))
    turn = abs((math.degrees(math.atan2(edge[1], edge[0])) + 45) % 90 - 45)
    apart = min((float(np.abs(tone - t).max()) for t in others), default=255.0)
    return {
        "shadow": (steady[best] + steady[(best + 1) % 4]) / 2,
        "askew": min(turn, 2.0),
        "own_paper": min(apart, 80.0) / 40,
    }


def _dip(
    grey: Floats, start: NDArray[np.float64], end: NDArray[np.float64], middle: NDArray[np.float64]
) -> tuple[float, float]:
    """How much darker a line just outside a side is than what lies further out and within, in levels; and along how
    much of the side it is so."""
    along = end - start
    length = float(np.hypot(*along))
    if length < 8:
        return 0.0, 0.0
    out = np.array([along[1], -along[0]]) / length
    if out @ (start - middle) < 0:
        out = -out
    at = start + np.linspace(0.06, 0.94, _SAMPLES)[:, None] * along
    steps = np.arange(-6, _OUT_PX + 1)
    places = at[:, None, :] + steps[None, :, None] * out
    profile = cv2.remap(
        grey, places[..., 0].astype(np.float32), places[..., 1].astype(np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    near = profile[:, 5:12].min(axis=1)
    far = np.median(profile[:, -6:], axis=1)
    within = np.median(profile[:, :4], axis=1)
    dips = np.minimum(far, within) - near
    return float(np.median(dips)), float((dips > 3).mean())


def _overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> float:
    wide = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    high = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    return max(0.0, wide) * max(0.0, high) / max(1e-6, min(one[2] * one[3], other[2] * other[3]))


def _words(measured: dict[str, float]) -> str:
    said = [
        "a dark line as of a shadow beside its edges" if measured["shadow"] > 0.5 else "",
        "lies askew" if measured["askew"] > 0.3 else "",
        "of a tone that is nowhere else on the sheet" if measured["own_paper"] > 0.6 else "",
    ]
    return "a straight-sided ground, " + (", ".join(s for s in said if s) or "with few signs of paste")
