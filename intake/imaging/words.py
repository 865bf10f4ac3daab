"""Turn descriptors into words of a fixed vocabulary and short signatures, so that they can be looked up.

A descriptor is cut into its two halves, each named by the nearest of 256 typical halves: 65,536 words (an inverted
multi-index, Babenko & Lempitsky 2012). Within a word, 64 signs of what is left tell descriptors apart (Hamming
embedding, Jegou et al. 2008). The typical halves are shipped in vocabulary.npy, made by
``python -m tests.bench.make_vocabulary`` from painted noise of a fixed seed: no scan ever changes them, so a scan's
words never depend on what came before.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from intake.imaging.permute import STEP

VOCABULARY = Path(__file__).with_name("vocabulary.npy")
WORDS = 256 * 256
_HALF = 64
_STEP = round(STEP * 512)
_CLOSE = 8


@dataclass(frozen=True, slots=True, eq=False)
class _Vocabulary:
    """Two tables of typical halves (256, 64), half their squared lengths, and their 64 projections."""

    halves: tuple[NDArray[np.float32], NDArray[np.float32]]
    lengths: tuple[NDArray[np.float32], NDArray[np.float32]]
    projected: tuple[NDArray[np.float32], NDArray[np.float32]]
    signs: NDArray[np.float32]


@cache
def _vocabulary() -> _Vocabulary:
    tables = np.load(VOCABULARY, allow_pickle=False).astype(np.float32)
    signs = (np.random.default_rng(20).integers(0, 2, (128, 64)) * 2 - 1).astype(np.float32)
    halves = (tables[0], tables[1])
    return _Vocabulary(
        halves,
        ((halves[0] ** 2).sum(axis=1) / 2, (halves[1] ** 2).sum(axis=1) / 2),
        (halves[0] @ signs[:_HALF], halves[1] @ signs[_HALF:]),
        signs,
    )


def to_words(descriptors: NDArray[np.uint8], nearest: int) -> tuple[NDArray[np.int32], NDArray[np.uint64]]:
    """The ``nearest`` (1 to 64) words of each of (n, 128) descriptors, nearest first, and its signature in each: (n,
    k).

    All sums are of whole numbers below 2**24: exact in float32, whatever the machine.
    """
    known = _vocabulary()
    values = descriptors.astype(np.float32) * _STEP
    names, costs = [], []
    for half, part in enumerate((values[:, :_HALF], values[:, _HALF:])):
        cost = known.lengths[half] - part @ known.halves[half].T
        close = _smallest(cost, _CLOSE)
        names.append(close)
        costs.append(np.take_along_axis(cost, close, axis=1))
    both = (costs[0][:, :, None] + costs[1][:, None, :]).reshape(len(values), _CLOSE * _CLOSE)
    best = _smallest(both, nearest)
    first = np.take_along_axis(names[0], best // _CLOSE, axis=1)
    second = np.take_along_axis(names[1], best % _CLOSE, axis=1)
    rest = (values @ known.signs)[:, None, :] - known.projected[0][first] - known.projected[1][second]
    signatures = np.packbits(rest > 0, axis=2).view(np.uint64)[:, :, 0]
    return (first * 256 + second).astype(np.int32), signatures


def _smallest(cost: NDArray[np.float32], count: int) -> NDArray[np.intp]:
    """Columns of the ``count`` smallest values of each row, smallest first; of equal ones the first column."""
    ranked = cost.astype(np.float64) * cost.shape[1] + np.arange(cost.shape[1])
    some = np.argpartition(ranked, count - 1, axis=1)[:, :count]
    order = np.argsort(np.take_along_axis(ranked, some, axis=1), axis=1)
    return np.take_along_axis(some, order, axis=1)
