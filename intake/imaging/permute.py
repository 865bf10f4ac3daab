"""One SIFT extraction serves a picture, its negative, its mirror image and its mirrored negative.

A descriptor is 4 x 4 cells of 8 directions, ``d[row, column, direction]``, laid along the keypoint's own angle.
Inverting a picture's tones turns every gradient by half a turn, so the keypoint's angle too: seen along the new angle
each gradient keeps its direction and the cells are turned end for end. Mirroring turns the rows over and reverses the
directions. tests/imaging/test_permute.py proves both against re-extraction.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

STEP = 12 / 512
"""A RootSIFT descriptor has length 1; its numbers are kept in steps of this, from 0 to 15: four bits each."""


@dataclass(frozen=True, slots=True)
class Variant:
    """How one stored picture may differ from another that shows the same thing."""

    polarity_flip: bool
    mirror: bool


VARIANTS = (Variant(False, False), Variant(True, False), Variant(False, True), Variant(True, True))


def bits_of(variants: Iterable[Variant]) -> int:
    """A set of variants as one number, as the ledger notes it."""
    return sum(1 << VARIANTS.index(variant) for variant in variants)


def variants_of(bits: int) -> frozenset[Variant]:
    """The set that ``bits_of`` made a number of."""
    return frozenset(variant for place, variant in enumerate(VARIANTS) if bits >> place & 1)


def _order(variant: Variant) -> NDArray[np.intp]:
    cells = np.arange(128).reshape(4, 4, 8)
    if variant.polarity_flip:
        cells = cells[::-1, ::-1, :]
    if variant.mirror:
        cells = cells[::-1, :, (-np.arange(8)) % 8]
    return cells.reshape(128)


_ORDERS = {variant: _order(variant) for variant in VARIANTS}


def permute_descriptors(descriptors: NDArray[np.uint8], variant: Variant) -> NDArray[np.uint8]:
    """(n, 128) descriptors as they would be found in the picture's ``variant``."""
    return descriptors[:, _ORDERS[variant]]


def permute_points(points: NDArray[np.float32], variant: Variant) -> NDArray[np.float32]:
    """(n, 4) keypoints x, y, size, angle (degrees) in the picture's ``variant``; a mirrored x is -x, not width - x."""
    moved = points.copy()
    if variant.polarity_flip:
        moved[:, 3] += 180
    if variant.mirror:
        moved[:, 0] *= -1
        moved[:, 3] = 180 - moved[:, 3]
    moved[:, 3] %= 360
    return moved
