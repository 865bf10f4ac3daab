"""A page of a scan as a tiled pyramid: written once in a stream, then read by region at any power of two."""

import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from intake.imaging.libvips import pyvips
from intake.imaging.original import Original
from intake.model import Box, PartFound

_STRIP_BYTES = 24 * 2**20


def write_pyramid(original: Original, found: PartFound, to: Path, tile_px: int, quality: int) -> None:
    """Write one part as a TIFF 6.0 pyramid of JPEG tiles, sRGB, halved by area from level to level.

    Memory stays at a few strips: the pixels are poured into a nameless file beside ``to`` and mapped from there.
    Raises OSError or pyvips.Error.
    """
    leaf = next(one for one in original.leaves if one.number == found.page)
    left, top, width, height = found.box
    with tempfile.TemporaryFile(dir=to.parent) as file:
        rows = max(1, _STRIP_BYTES // (width * 3))
        for y in range(0, height, rows):
            strip = original.read(leaf, Box(left, top + y, width, min(rows, height - y)))
            file.write(np.ascontiguousarray(strip).data)
        file.flush()
        poured = np.memmap(file, np.uint8, "r", shape=(height, width, 3))
        image = pyvips.Image.new_from_memory(poured, width, height, 3, "uchar").copy(interpretation="srgb")
        image.tiffsave(
            str(to),
            tile=True,
            tile_width=tile_px,
            tile_height=tile_px,
            pyramid=True,
            region_shrink="mean",
            compression="jpeg",
            Q=quality,
            bigtiff=True,
        )


class Pyramid:
    """An open pyramid. Level n has one pixel for 2^n x 2^n stored pixels of the part; may be read by many threads."""

    def __init__(self, path: Path) -> None:
        """Open every level. Raises pyvips.Error when it is damaged or gone."""
        first = pyvips.Image.tiffload(str(path))
        pages = int(first.get("n-pages")) if "n-pages" in first.get_fields() else 1
        self._levels: list[Any] = [first, *(pyvips.Image.tiffload(str(path), page=n) for n in range(1, pages))]

    @property
    def sizes(self) -> list[tuple[int, int]]:
        """Width and height of each level, the finest first."""
        return [(level.width, level.height) for level in self._levels]

    def read(self, level: int, box: Box) -> NDArray[np.uint8]:
        """Return ``box`` (pixels of the level, within it) as (h, w, 3) uint8 sRGB. Raises pyvips.Error."""
        return np.asarray(self._levels[level].crop(*box).numpy(), np.uint8)
