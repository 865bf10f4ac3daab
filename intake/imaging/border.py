"""Where the picture begins: inside scanner bed, rebate, film base, proof margin and colour bars."""

import cv2
import numpy as np
from numpy.typing import NDArray

_LONG_EDGE_PX = 200
_SAME_LEVELS = 9.0


def _flat_lines(grey: NDArray[np.float32], share: float) -> NDArray[np.bool_]:
    """Which rows are one tone but for ``1 - share`` of their length, which edge print and notches may take."""
    median = np.median(grey, axis=1, keepdims=True)
    return (np.abs(grey - median) < _SAME_LEVELS).mean(axis=1) > share


def _depth(flat: NDArray[np.bool_], reach: int, gap: int) -> int:
    """Lines to cut from the beginning: up to the last flat line, skipping bands of at most ``gap`` lines."""
    last, line = 0, 0
    while line < min(reach, len(flat)) and line - last <= gap:
        line += 1
        if flat[line - 1]:
            last = line
    return last


def find_picture(
    grey: NDArray[np.uint8], *, flat_share: float, reach_share: float, gap_share: float
) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of the picture in a (h, w) grey image, as shares (0-1) of its width and height.

    Each side is cut while its lines are of one tone; bands narrower than ``gap_share`` (edge print, colour bars, a
    deckle) are cut when flat lines lie within them too, and no side is cut further than ``reach_share``.
    """
    scale = _LONG_EDGE_PX / max(grey.shape)
    size = (max(1, round(grey.shape[1] * scale)), max(1, round(grey.shape[0] * scale)))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    height, width = small.shape
    left, top, right, bottom = 0, 0, width, height
    for _ in range(2):
        for across in (False, True):
            seen = small[top:bottom] if across else small[:, left:right]
            flat = _flat_lines(seen.T if across else seen, flat_share)
            reach, gap = int(len(flat) * reach_share), max(1, int(len(flat) * gap_share))
            begin, end = _depth(flat, reach, gap), len(flat) - _depth(flat[::-1], reach, gap)
            if across:
                left, right = begin, end
            else:
                top, bottom = begin, end
    return left / width, top / height, right / width, bottom / height
