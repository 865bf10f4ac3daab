"""One part of a scan in memory: its working images, and full-resolution crops from the one decode."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from intake.model import Box, PartKey


@dataclass(frozen=True, slots=True)
class Page:
    """A part as stored: not turned, not mirrored.

    ``box`` lies on ``whole``, the page of the file, in stored pixels. ``working`` is (h, w, 3) uint8 sRGB, ``deep`` the
    same picture as (h, w, 3) uint16 in the file's own coding where the file has 16 bits. ``stored_per_working`` is
    stored pixels per working pixel.
    """

    key: PartKey
    box: Box
    working: NDArray[np.uint8]
    deep: NDArray[np.uint16] | None
    stored_per_working: float
    whole: Box
    read: Callable[[Box, int | None], NDArray[np.uint8]]

    def crop(self, box: Box, longest_px: int | None = None) -> NDArray[np.uint8]:
        """Return ``box`` (stored pixels) as (h, w, 3) uint8 sRGB, at most ``longest_px`` on its long edge.

        The box is clipped to the page of the file. Raises ValueError when nothing of it is left.
        """
        left, top = max(0, box.left), max(0, box.top)
        right = min(self.whole.width, box.left + box.width)
        bottom = min(self.whole.height, box.top + box.height)
        if right <= left or bottom <= top:
            raise ValueError(f"{box} does not touch the page of {self.whole.width} x {self.whole.height} pixels")
        return self.read(Box(left, top, right - left, bottom - top), longest_px)
