"""sRGB coding, light and density."""

import cv2
import numpy as np
from numpy.random import Generator

from sample_batch.page import Pixels

LUMA = np.float32([0.2126, 0.7152, 0.0722])


def seeded(*parts: int | str) -> Generator:
    """Return a generator that depends on nothing but ``parts``."""
    words = [int.from_bytes(p.encode(), "big") % (2**32) if isinstance(p, str) else p for p in parts]
    return np.random.Generator(np.random.PCG64(words))


def to_linear(coded: Pixels) -> Pixels:
    """Return linear light from sRGB (IEC 61966-2-1), both in 0..1."""
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4).astype(np.float32)


def to_srgb(linear: Pixels) -> Pixels:
    """Return sRGB (IEC 61966-2-1) from linear light, both in 0..1."""
    light = np.clip(linear, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055).astype(np.float32)


def cloud(rng: Generator, shape: tuple[int, int], size_px: float) -> Pixels:
    """Return a smooth random field, about standard normal, whose blots are about ``size_px`` wide."""
    h, w = shape
    step = max(1.0, size_px / 2)
    rough = rng.standard_normal((int(h / step) + 4, int(w / step) + 4)).astype(np.float32)
    rough = cv2.GaussianBlur(rough, (0, 0), 0.8)
    field = cv2.resize(rough, (w, h), interpolation=cv2.INTER_CUBIC)
    return np.asarray((field - field.mean()) / (field.std() + 1e-6), np.float32)


def grain(rng: Generator, shape: tuple[int, int], size_px: float) -> Pixels:
    """Return fine noise, standard normal, smoothed over ``size_px``. A tile is repeated where the picture is large."""
    h, w = shape
    side = 1024
    tile = rng.standard_normal((side, side)).astype(np.float32)
    if size_px > 0.3:
        pad = int(size_px * 4) + 1
        tile = cv2.GaussianBlur(np.pad(tile, pad, mode="wrap"), (0, 0), size_px)[pad:-pad, pad:-pad]
        tile /= tile.std()
    return np.tile(tile, (-(-h // side), -(-w // side)))[:h, :w]
