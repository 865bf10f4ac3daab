"""Last touches on the dry picture: the relief of the paint, the grain of the board, spatter."""

import cv2
import numpy as np
from numpy.typing import NDArray

Image8 = NDArray[np.uint8]
BAND = 512


def finish(pixels: Image8, size: tuple[int, int], seed: int, board: int = 0) -> Image8:
    """The picture at `size` (w, h) with relief and the grain of its board; in bands, so that memory stays bounded."""
    high, wide = pixels.shape[:2]
    if (wide, high) != size:
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_CUBIC)
    rng = np.random.Generator(np.random.PCG64([seed, 0xF1, *([board] if board else [])]))
    lattice = rng.normal(size=(1500, max(1, round(1500 * wide / high)))).astype(np.float32) * 4.2
    lattice += cv2.GaussianBlur(rng.normal(size=lattice.shape).astype(np.float32), (0, 0), 3.0) * 22
    scale = size[1] / 1500
    if scale < 1:
        lattice = cv2.resize(lattice, size, interpolation=cv2.INTER_AREA)
        scale = 1.0
    step = 0.0011 * size[1]
    out = np.empty_like(pixels)
    for top in range(0, size[1], BAND):
        bottom = min(size[1], top + BAND)
        pad = int(step) + 2
        low, far = max(0, top - pad), min(size[1], bottom + pad)
        band = pixels[low:far]
        grey = cv2.cvtColor(band, cv2.COLOR_RGB2GRAY).astype(np.float32)
        moved = cv2.warpAffine(
            grey,
            np.array([[1, 0, step], [0, 1, step]], np.float32),
            (size[0], far - low),
            borderMode=cv2.BORDER_REPLICATE,
        )
        relief = np.clip(grey - moved, -40, 40) * 0.22
        grid = np.array([[1 / scale, 0, 0], [0, 1 / scale, top / scale]], np.float32)
        grain = cv2.warpAffine(
            lattice,
            grid,
            (size[0], bottom - top),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        change = relief[top - low : top - low + bottom - top] + grain
        if scale > 2:
            change += rng.standard_normal(change.shape, np.float32) * 2.5
        out[top:bottom] = np.clip(pixels[top:bottom].astype(np.float32) + change[..., None], 0, 255).astype(np.uint8)
    return out
