"""Film in density: from stored code values to light, from light to density above base, and back as a print."""

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.float32]
_FLOOR = 1e-4


def to_light(coded: NDArray[np.uint8] | NDArray[np.uint16]) -> Pixels:
    """Return linear light (0..1) of sRGB-coded values of 8 or 16 bits (IEC 61966-2-1)."""
    peak = np.iinfo(coded.dtype).max
    levels = np.arange(peak + 1, dtype=np.float32) / peak
    table = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return np.asarray(table[coded], np.float32)


def to_code(light: Pixels) -> NDArray[np.uint8]:
    """Return 8-bit sRGB code of linear light (0..1)."""
    light = np.clip(light, 0, 1)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * np.power(light, 1 / 2.4) - 0.055)
    return np.asarray(np.round(coded * 255), np.uint8)


def to_density(light: Pixels) -> Pixels:
    """Return density, -log10 of linear light."""
    return np.asarray(-np.log10(np.maximum(light, _FLOOR)), np.float32)
