"""The stored pixels of one page, decoded once in a stream and kept in memory, or in a temporary file when they are
many."""

import tempfile
from pathlib import Path
from typing import Any, BinaryIO

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.colour import Stored, storable
from intake.imaging.libvips import pyvips
from intake.model import Box

_BLOCK_BYTES = 16 * 2**20
# so much at a time is decoded into memory, as a decoder holds several such blocks itself: the first look at 24.5 MP of
# JPEG peaks at 290 MB instead of 400, at the same CPU time; pages that go to a file take no more memory as it is
_INTO_MEMORY_BYTES = 4 * 2**20
cv2.setNumThreads(1)


class Pixels:
    """(height, width, bands) of uint8 or uint16 as stored. ``close`` lets go of the memory or of the file.

    The temporary file has no name, so it is gone when the process is, however that ends. It is read by rows through a
    mapping that lives for one block only: resident memory stays at a block, whatever the size of the page.
    """

    def __init__(self, image: Any, memory_bytes: int, scratch: Path) -> None:
        """Decode ``image`` (libvips, sequential). Raises pyvips.Error when the decoder finds damage."""
        image = storable(image)
        self.shape: tuple[int, int, int] = (image.height, image.width, image.bands)
        self.dtype = np.dtype(np.uint8 if image.format == "uchar" else np.uint16)
        self._row_bytes = image.width * image.bands * self.dtype.itemsize
        self._array: NDArray[Any] | None = None
        self._file: BinaryIO | None = None
        try:
            self._pour(image, self._row_bytes * image.height <= memory_bytes, scratch)
        except pyvips.Error:
            self.close()
            raise

    @property
    def held_bytes(self) -> int:
        """Bytes of memory that the pixels take."""
        return 0 if self._array is None else self._array.nbytes

    def read(self, box: Box, longest_px: int | None = None) -> Stored:
        """Return the pixels of ``box`` (within the page), shrunk by area so that its long edge is at most
        ``longest_px``."""
        left, top, width, height = box
        factor = max(width, height) / longest_px if longest_px else 1.0
        if factor <= 1.0:
            # block by block: a narrow box of many rows would else have the whole file in memory
            asked = np.empty((height, width, self.shape[2]), self.dtype)
            many = max(1, _BLOCK_BYTES // self._row_bytes)
            for first in range(0, height, many):
                last = min(height, first + many)
                asked[first:last] = self._rows(top + first, top + last)[:, left : left + width]
            return asked
        out_w, out_h = max(1, round(width / factor)), max(1, round(height / factor))
        out = np.empty((out_h, out_w, self.shape[2]), self.dtype)
        step = max(1, int(_BLOCK_BYTES / self._row_bytes / (height / out_h)))
        for first in range(0, out_h, step):
            last = min(out_h, first + step)
            y0, y1 = int(first * height / out_h), max(int(last * height / out_h), int(first * height / out_h) + 1)
            block = self._rows(top + y0, top + y1)[:, left : left + width]
            out[first:last] = cv2.resize(block, (out_w, last - first), interpolation=cv2.INTER_AREA).reshape(
                last - first, out_w, -1
            )
        return out

    def close(self) -> None:
        """Let the pixels go."""
        self._array = None
        if self._file is not None:
            self._file.close()
            self._file = None

    def _pour(self, image: Any, in_memory: bool, scratch: Path) -> None:
        height, width, bands = self.shape
        region = pyvips.Region.new(image)
        step = max(1, (_INTO_MEMORY_BYTES if in_memory else _BLOCK_BYTES) // self._row_bytes)
        if in_memory:
            self._array = np.empty(self.shape, self.dtype)
        else:
            self._file = tempfile.TemporaryFile(dir=scratch)  # noqa: SIM115 - lives as long as the pixels
        for top in range(0, height, step):
            rows = min(step, height - top)
            data = region.fetch(0, top, width, rows)
            if self._array is not None:
                self._array[top : top + rows] = np.frombuffer(data, self.dtype).reshape(rows, width, bands)
            elif self._file is not None:
                self._file.write(data)
        if self._file is not None:
            self._file.flush()

    def _rows(self, first: int, last: int) -> NDArray[Any]:
        if self._array is not None:
            return self._array[first:last]
        if self._file is None:
            raise ValueError("these pixels were let go")
        shape = (last - first, *self.shape[1:])
        return np.memmap(self._file, self.dtype, "r", offset=first * self._row_bytes, shape=shape)
