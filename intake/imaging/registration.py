"""Register marks: a ring with a cross through it, as printers and process cameras put beside a picture."""

import cv2
import numpy as np
from numpy.typing import NDArray

_ALIKE = 0.60
_MOST, _MOST_TRIES = 9, 24
_DARK = 18


def count_register_marks(grey: NDArray[np.uint8], mask: NDArray[np.bool_], sizes_px: tuple[int, ...]) -> int:
    """Return how many register marks stand where ``mask`` is true, at most nine.

    ``sizes_px`` are the half widths to look for. Found by normalised correlation with a drawn mark, dark on light.
    """
    best = np.zeros(grey.shape, np.float32)
    for half in sizes_px:
        template = _drawn(half)
        side = template.shape[0]
        if side >= min(grey.shape):
            continue
        alike = cv2.matchTemplate(grey, template, cv2.TM_CCOEFF_NORMED)
        offset = side // 2
        view = best[offset : offset + alike.shape[0], offset : offset + alike.shape[1]]
        np.maximum(view, np.nan_to_num(alike, posinf=0, neginf=0), out=view)
    best[~mask] = 0
    found = 0
    reach = max(sizes_px) * 2
    for _ in range(_MOST_TRIES):
        _, value, _, (x, y) = cv2.minMaxLoc(best)
        if value < _ALIKE or found == _MOST:
            break
        found += any(_is_cross(grey, x, y, half) for half in sizes_px)
        best[max(0, y - reach) : y + reach, max(0, x - reach) : x + reach] = 0
    return found


def _is_cross(grey: NDArray[np.uint8], x: int, y: int, half: int) -> bool:
    """Whether four dark arms reach out from (x, y) beyond the ring, with bare ground between them: letters have not."""
    reach = half + 2
    if x < reach or y < reach or x + reach >= grey.shape[1] or y + reach >= grey.shape[0]:
        return False
    patch = grey[y - reach : y + reach + 1, x - reach : x + reach + 1].astype(np.float32)
    ground = float(np.percentile(patch, 90))
    near, far = round(0.6 * half), max(round(0.6 * half) + 1, round(0.9 * half))
    arms, between = [], []
    for turned in (patch, np.rot90(patch), np.rot90(patch, 2), np.rot90(patch, 3)):
        arms.append(turned[reach - 1 : reach + 2, reach + near : reach + far].min(axis=0).mean())
        between.append(turned[reach + near : reach + far, reach + near : reach + far].mean())
    return max(arms) < ground - _DARK and min(between) > ground - _DARK


def _drawn(half: int) -> NDArray[np.uint8]:
    scale = 4
    side = (2 * half + 3) * scale
    image = np.full((side, side), 255, np.uint8)
    middle = side // 2
    cv2.circle(image, (middle, middle), round(half * 0.45 * scale), 0, scale, cv2.LINE_AA)
    cv2.line(image, (middle - half * scale, middle), (middle + half * scale, middle), 0, scale)
    cv2.line(image, (middle, middle - half * scale), (middle, middle + half * scale), 0, scale)
    return np.asarray(cv2.resize(image, (2 * half + 3, 2 * half + 3), interpolation=cv2.INTER_AREA), np.uint8)
