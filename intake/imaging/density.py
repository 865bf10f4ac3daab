"""Film in density: what each code value of a scan lets through, and how a print would show it. All as tables."""

import numpy as np
from numpy.typing import NDArray

Table = NDArray[np.float32]
_FLOOR = 1e-4


def light_table(kind: np.dtype[np.uint8] | np.dtype[np.uint16]) -> Table:
    """Return linear light (0..1) of every sRGB code value of 8 or 16 bits (IEC 61966-2-1)."""
    levels = np.linspace(0, 1, np.iinfo(kind).max + 1, dtype=np.float64)
    light = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)
    return np.asarray(light, np.float32)


def density_table(kind: np.dtype[np.uint8] | np.dtype[np.uint16]) -> Table:
    """Return density, -log10 of light, of every code value; at most 4."""
    return np.asarray(-np.log10(np.maximum(light_table(kind), _FLOOR)), np.float32)


def to_code(light: Table) -> NDArray[np.uint8]:
    """Return 8-bit sRGB code of linear light (0..1, clipped)."""
    light = np.clip(light, 0, 1)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * np.power(light, 1 / 2.4) - 0.055)
    return np.asarray(np.round(coded * 255), np.uint8)
