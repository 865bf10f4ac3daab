"""Long straight lines of a picture that lie nearly level, pieced together from its straight segments."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

Lines = NDArray[np.float64]
_LEAST_PX, _SEED_PX = 12.0, 24.0
_JOIN_PX = 1.6
_MOST_SEGMENTS = 20_000
_ROUNDS = 4
_CHROMA_GAIN = 3


def segments(picture: NDArray[np.uint8]) -> Lines:
    """(n, 4) straight segments (x, y, x, y) in the light of an RGB picture, and in its colours at half size (line
    segment detector; Grompone von Gioi 2012)."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD)
    lab = cv2.cvtColor(picture, cv2.COLOR_RGB2LAB)
    made = [np.empty((0, 4))]
    for channel in range(3):
        plane, scale = lab[..., channel], 1
        if channel:
            half = cv2.resize(plane, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA).astype(np.float32)
            plane, scale = np.clip((half - 128) * _CHROMA_GAIN + 128, 0, 255).astype(np.uint8), 2
        found = detector.detect(plane)[0]
        if found is not None:
            made.append(found.reshape(-1, 4).astype(np.float64) * scale + (scale - 1) / 2)
    return np.concatenate(made)


def level_lines(found: Lines, most_turn_deg: float) -> Lines:
    """(n, 4) lines from left to right, within ``most_turn_deg`` of level, whatever interrupts them."""
    along = found[:, 2:] - found[:, :2]
    pieces = np.where((along[:, 0] < 0)[:, None], found[:, [2, 3, 0, 1]], found)
    along = np.abs(along)
    length = np.hypot(along[:, 0], along[:, 1])
    held = (along[:, 1] <= math.tan(math.radians(most_turn_deg)) * along[:, 0]) & (length >= _LEAST_PX)
    order = np.argsort(-length[held], kind="stable")[:_MOST_SEGMENTS]
    pieces, length = pieces[held][order], length[held][order]
    used = np.zeros(len(pieces), bool)
    made = []
    for seed in range(len(pieces)):
        if used[seed]:
            continue
        if length[seed] < _SEED_PX:
            break
        group, slope, start = _grown(pieces, length, seed)
        used |= group
        left, right = float(pieces[group, 0].min()), float(pieces[group, 2].max())
        made.append((left, slope * left + start, right, slope * right + start))
    return np.array(made).reshape(-1, 4)


def _grown(pieces: Lines, length: NDArray[np.float64], seed: int) -> tuple[NDArray[np.bool_], float, float]:
    """The pieces that lie on one line with a first one: which, and the line's slope and height at x = 0."""
    group = np.zeros(len(pieces), bool)
    group[seed] = True
    x0, y0, x1, y1 = pieces[seed]
    slope = float((y1 - y0) / max(1e-6, x1 - x0))
    start = float(y0 - slope * x0)
    for _ in range(_ROUNDS):
        left, right = pieces[group, 0].min(), pieces[group, 2].max()
        reach = right - left + 20
        miss = np.abs(pieces[:, 1::2] - slope * pieces[:, 0::2] - start).max(axis=1)
        near = (pieces[:, 2] > left - reach) & (pieces[:, 0] < right + reach) & (miss < _JOIN_PX)
        near[seed] = True
        if (near == group).all():
            break
        group = near
        ends = pieces[group].reshape(-1, 2)
        fitted = np.polyfit(ends[:, 0], ends[:, 1], 1, w=np.sqrt(np.repeat(length[group], 2)))
        slope, start = float(fitted[0]), float(fitted[1])
    return group, slope, start


def turns(lines: Lines) -> NDArray[np.float64]:
    """(n,) degrees by which lines fall to the right."""
    return np.degrees(np.arctan2(lines[:, 3] - lines[:, 1], lines[:, 2] - lines[:, 0]))
