"""How far a picture goes on beyond what another one shows of it."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix
from intake.imaging.untold import FrameBox

_BEYOND, _BEYOND_PX, _DRAWN = 0.25, 300, 0.4


def shown_beyond(pixels: NDArray[np.uint8], to_frame: Matrix, field: FrameBox) -> FrameBox:
    """How far a picture goes on beyond the field to the left, top, right and bottom, in frame pixels: as far as
    something is drawn there. A bare margin, a rebate and the ground end it."""
    wide, high = field[2] - field[0], field[3] - field[1]
    reach = _BEYOND * max(wide, high)
    scale = _BEYOND_PX / max(wide, high)
    size = math.ceil((wide + 2 * reach) * scale), math.ceil((high + 2 * reach) * scale)
    share = min(1.0, 2 * _BEYOND_PX / max(pixels.shape[:2]))
    small = cv2.resize(pixels, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    shift = np.array([[scale, 0, (reach - field[0]) * scale], [0, scale, (reach - field[1]) * scale], [0, 0, 1.0]])
    laid = cv2.warpPerspective(small, shift @ to_frame @ np.diag([1 / share, 1 / share, 1.0]), size)
    plane = cv2.cvtColor(laid, cv2.COLOR_RGB2GRAY).astype(np.float32)
    drawn = np.abs(cv2.Sobel(plane, cv2.CV_32F, 1, 0)) + np.abs(cv2.Sobel(plane, cv2.CV_32F, 0, 1))
    drawn = np.minimum(drawn, 60)  # one hard edge, as of a margin, is no drawing
    left, top, right, bottom = (round(v * scale) for v in (reach, reach, reach + wide, reach + high))
    along = drawn[top:bottom].mean(axis=0), drawn[:, left:right].mean(axis=1)
    ends = []
    for profile, start, step in (
        (along[0], left, -1),
        (along[1], top, -1),
        (along[0], right, 1),
        (along[1], bottom, 1),
    ):
        inside = np.sort(profile[left:right] if profile is along[0] else profile[top:bottom])
        bar = _DRAWN * float(inside[len(inside) // 4])
        n, bare = 0, 0
        while 0 <= start + step * n < len(profile) and bare < 3:
            bare = 0 if profile[start + step * n] >= bar else bare + 1
            n += 1
        ends.append(max(0, n - bare) / scale)
    return ends[0], ends[1], ends[2], ends[3]
