"""Places on a picture that look like a hand-written signature or monogram: thin strokes of one ink in many directions,
by themselves on quieter ground. What they say, and whose they are, is nobody's business here."""

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
Shares = tuple[float, float, float, float]

# Lengths in pixels of a picture LOOKED_PX long: strokes of a signature are 2 to 7 px wide there.
LOOKED_PX = 1200
_STROKE_PX = 13
_FLOOR, _STRONG = 24.0, 3.5
_NOISE_PX = 151
_JOIN_PX = (9, 5)
_HEIGHT, _WIDTH = (10, 110), (14, 260)
_LEAST_INK = 40
_MOST = 400


@dataclass(frozen=True, slots=True)
class _Window:
    """What of a picture of size ``whole`` (h, w) is looked at begins at ``left``, ``top``; pixels."""

    whole: tuple[int, ...]
    left: int
    top: int


@dataclass(frozen=True, slots=True)
class Written:
    """A place as shares of the picture (left, top, width, height), what was measured of it, and if the ink is light."""

    left: float
    top: float
    width: float
    height: float
    light: bool
    measures: Mapping[str, float]


def written_places(picture: NDArray[np.uint8], around: Shares | None = None) -> list[Written]:
    """Everything on (h, w, 3) RGB that is made of thin strokes and about as large as a signature, to be judged.

    ``around``: only what lies about there (left, top, width, height as shares of the picture).
    """
    scale = LOOKED_PX / max(picture.shape[:2])
    small = cv2.resize(
        picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    )
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB).astype(np.float32)
    window = _Window(grey.shape, 0, 0)
    if around is not None:
        window, cut = _about(around, grey.shape)
        grey, lab = np.ascontiguousarray(grey[cut]), lab[cut]
    made: list[Written] = []
    for light in (False, True):
        made += _of_one_ink(grey, lab, window, light=light)
    return made


def _about(around: Shares, size: tuple[int, ...]) -> tuple[_Window, tuple[slice, slice]]:
    """The window that holds the place and as much beside it as noise is told by."""
    high, wide = size[:2]
    left, top = max(0, int(around[0] * wide) - _NOISE_PX), max(0, int(around[1] * high) - _NOISE_PX)
    right, bottom = (int(v) + _NOISE_PX for v in ((around[0] + around[2]) * wide, (around[1] + around[3]) * high))
    return _Window((high, wide), left, top), (slice(top, bottom), slice(left, right))


def _of_one_ink(grey: Grey, lab: NDArray[np.float32], window: _Window, *, light: bool) -> list[Written]:
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_STROKE_PX, _STROKE_PX))
    operation = cv2.MORPH_TOPHAT if light else cv2.MORPH_BLACKHAT
    hat = cv2.morphologyEx(cv2.GaussianBlur(grey, (0, 0), 0.8), operation, kernel).astype(np.float32)
    noise = cv2.blur(hat, (_NOISE_PX, _NOISE_PX))
    bound = np.maximum(_FLOOR, _STRONG * noise)
    strokes = ((hat > bound) & ~_narrow_only(hat > bound)).astype(np.uint8)
    joined = cv2.dilate(strokes, np.ones(_JOIN_PX[::-1], np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined)
    fitting = [
        n
        for n in range(1, count)
        if _HEIGHT[0] <= stats[n, cv2.CC_STAT_HEIGHT] <= _HEIGHT[1]
        and _WIDTH[0] <= stats[n, cv2.CC_STAT_WIDTH] <= _WIDTH[1]
    ]
    fitting.sort(key=lambda n: -float(stats[n, cv2.CC_STAT_AREA]))
    made = []
    for n in fitting[:_MOST]:
        x, y, w, h = (int(stats[n, k]) for k in range(4))
        ink = (labels[y : y + h, x : x + w] == n) & (strokes[y : y + h, x : x + w] > 0)
        if ink.sum() >= _LEAST_INK:
            measures = _measures(grey, lab, hat, strokes, ink, (x, y, w, h), window)
            high, wide = window.whole[:2]
            left, top = (x + window.left) / wide, (y + window.top) / high
            made.append(Written(left, top, w / wide, h / high, light, measures))
    return made


def _narrow_only(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Single pixels: noise."""
    counts = cv2.blur(mask.astype(np.float32), (3, 3)) * 9
    return np.asarray(mask & (counts < 2.5))


def _measures(
    grey: Grey,
    lab: NDArray[np.float32],
    hat: NDArray[np.float32],
    strokes: Grey,
    ink: NDArray[np.bool_],
    box: tuple[int, int, int, int],
    window: _Window,
) -> dict[str, float]:
    x, y, w, h = box
    high, wide = grey.shape
    area = float(ink.sum())
    near = cv2.dilate(ink.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    here = lab[y : y + h, x : x + w]
    core = cv2.erode(ink.astype(np.uint8), np.ones((2, 2), np.uint8)) > 0
    core = core if core.sum() > 12 else ink
    ground = ~near
    ground_lab = here[ground] if ground.sum() > 30 else here.reshape(-1, 3)
    apart = float(np.linalg.norm(np.median(here[core], axis=0) - np.median(ground_lab, axis=0)))
    spread = float(np.linalg.norm(here[core].std(axis=0)))
    rough = float(np.linalg.norm(ground_lab.std(axis=0)))
    distance = cv2.distanceTransform(np.pad(ink.astype(np.uint8), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    ridge = distance[ink & (distance >= cv2.dilate(distance, np.ones((3, 3), np.uint8)) - 1e-3)]
    pad = max(12, round(0.7 * h))
    y0, y1, x0, x1 = max(0, y - pad), min(high, y + h + pad), max(0, x - pad), min(wide, x + w + pad)
    around = float(strokes[y0:y1, x0:x1].sum()) - area
    ring = max(1.0, (y1 - y0) * (x1 - x0) - w * h)
    gx, gy = (
        cv2.Sobel(hat[y : y + h, x : x + w], cv2.CV_32F, 1, 0),
        cv2.Sobel(hat[y : y + h, x : x + w], cv2.CV_32F, 0, 1),
    )
    strength = np.hypot(gx, gy)[near]
    double = 2 * np.arctan2(gy, gx)[near]
    one_way = float(
        np.hypot((strength * np.cos(double)).sum(), (strength * np.sin(double)).sum()) / max(1e-6, strength.sum())
    )
    bins, _ = np.histogram(double, 12, (-2 * np.pi, 2 * np.pi), weights=strength)
    shares = bins / max(1e-6, bins.sum())
    pieces, _ = cv2.connectedComponents(ink.astype(np.uint8))
    return {
        "height": h / window.whole[0],
        "aspect": w / h,
        "density": area / (w * h),
        "apart": apart,
        "even_ink": apart / max(4.0, spread),
        "even_ground": apart / max(4.0, rough),
        "width_px": float(ridge.mean()) if ridge.size else 0.0,
        "width_spread": float(ridge.std() / ridge.mean()) if ridge.size and ridge.mean() else 1.0,
        "alone": 1 - min(1.0, (around / ring) / max(1e-6, area / (w * h))),
        "one_way": one_way,
        "ways": float(-(shares * np.log(shares + 1e-9)).sum() / np.log(12)),
        "length": area / max(1.0, 2 * (float(ridge.mean()) if ridge.size else 1.0)) / (w + h),
        "pieces": float(np.log1p(pieces - 1)),
        "low": float(min(1.0, (window.top + y + h / 2) / window.whole[0])),
        "edge": float(min(window.left + x + w / 2, window.whole[1] - window.left - x - w / 2) / window.whole[1]),
    }
