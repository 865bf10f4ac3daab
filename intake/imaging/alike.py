"""Tones of one picture brought to those of another that it lies over, so that what is left between them is drawing."""

import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
LEAST_PLACES = 256  # of fewer, a histogram tells nothing


def tones_alike(over: Picture, under: Picture, both: NDArray[np.bool_]) -> Picture | None:
    """(1, 256, 3): for each tone of ``over``, channel by channel, the tone of ``under`` that as many places are below.

    Histogram matching (Gonzalez and Woods, Digital Image Processing, section 3.3): exposure, paper and a faded ink fall
    out, as they are one rising curve a channel. ``over`` and ``under`` (height, width, 3) are of one size; ``both``
    (height, width) are the places where both show something. None where those are too few.
    """
    if int(both.sum()) < LEAST_PLACES:
        return None
    table = np.empty((1, 256, 3), np.uint8)
    for channel in range(3):
        here, there = (_below(picture[..., channel][both]) for picture in (over, under))
        table[0, :, channel] = np.round(np.interp(here, there, np.arange(256)))
    return table


def _below(tones: NDArray[np.uint8]) -> NDArray[np.float64]:
    """(256,): the share of places up to the middle of each tone; rising, however little."""
    count = np.bincount(tones, minlength=256) / len(tones)
    return np.asarray(np.cumsum(count) - count / 2 + np.arange(256) * 1e-12)
