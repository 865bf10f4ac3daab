"""How much less ink one print of a design shows than another, channel by channel, in density.

Light is absorbed in red by cyan ink, in green by magenta, in blue by yellow. The exposure of a scan scales all three
alike, so what counts is a channel against the best-kept one.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.density import density_table

Picture = NDArray[np.uint8]
_LEAST, _MOST = 0.2, 1.3
_PAPER = 3.0


@dataclass(frozen=True, slots=True)
class Kept:
    """Ink of one print as a share of another's in red, green and blue light; ``spread`` is half the range within which
    the middle half of the places lie, ``alike`` how well the two go together (correlation of densities, 0 to 1)."""

    shares: tuple[float, float, float]
    spread: float
    alike: float


def kept_ink(one: Picture, other: Picture, seen: NDArray[np.bool_], least: int) -> Kept | None:
    """Return what ``one`` keeps of the ink of ``other``, both (h, w, 3) and laid over each other where ``seen``.

    None with fewer than ``least`` places that are inked in each channel and not black.
    """
    table = density_table(np.dtype(np.uint8))
    soft = [table[cv2.GaussianBlur(p, (0, 0), 1.5)] for p in (one, other)]
    flat = [np.stack([d[..., c] - np.percentile(d[..., c][seen], _PAPER) for c in range(3)], axis=-1) for d in soft]
    shares, spreads, likes = [], [], []
    for channel in range(3):
        ours, theirs = flat[0][..., channel], flat[1][..., channel]
        inked = seen & (theirs > _LEAST) & (theirs < _MOST)
        if int(inked.sum()) < least:
            return None
        ratio = ours[inked] / theirs[inked]
        low, middle, high = np.percentile(ratio, (25, 50, 75))
        shares.append(float(middle))
        spreads.append(float(high - low) / 2)
        likes.append(float(np.corrcoef(ours[seen], theirs[seen])[0, 1]))
    return Kept((shares[0], shares[1], shares[2]), max(spreads), min(likes))
