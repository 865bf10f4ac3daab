"""Whether a printing screen can be seen: a lattice of dots is a few sharp peaks in the spectrum."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_SIDE = 256
_LOWEST, _HIGHEST = 0.07, 0.45


@dataclass(frozen=True, slots=True)
class Screen:
    """``strength``: the highest peak over the median of its surroundings; ``period_px`` of the stored picture."""

    strength: float
    period_px: float
    angle_deg: float


def find_screen(grey: NDArray[np.uint8]) -> Screen:
    """Return the strongest regular pattern of an (n, n) grey picture, n >= 64, between 2.2 and 14 pixels a period.

    The axes are left out: scanner lines and the 8-pixel blocks of JPEG lie there.
    """
    side = min(_SIDE, *grey.shape)
    tile = grey[:side, :side].astype(np.float32)
    tile -= tile.mean()
    window = np.hanning(side).astype(np.float32)
    power = np.abs(np.fft.rfft2(tile * window[:, None] * window[None, :])) ** 2
    fy = np.fft.fftfreq(side)[:, None]
    fx = np.fft.rfftfreq(side)[None, :]
    radius = np.hypot(fx, fy)
    off_axis = (np.abs(fx) > 2.5 / side) & (np.abs(fy) > 2.5 / side)
    band = (radius >= _LOWEST) & (radius <= _HIGHEST) & off_axis
    # a natural picture falls off with frequency: each ring is held against its own median
    ring = np.round(radius * side / 4).astype(np.intp)
    level = np.ones(int(ring.max()) + 1, np.float32)
    for number in np.unique(ring[band]):
        level[number] = np.median(power[band & (ring == number)])
    relative = np.where(band, power / np.maximum(level[ring], 1e-3), 0)
    at = np.unravel_index(int(np.argmax(relative)), relative.shape)
    frequency = float(radius[at])
    angle = float(np.degrees(np.arctan2(fy[at[0], 0], fx[0, at[1]])) % 90)
    return Screen(float(relative[at]), 1 / frequency, angle)
