"""The index: which parts may show the same thing as this one, without comparing all pairs.

An inverted file of words (see words.py). Each descriptor found under the same word with a like signature votes for a
turn, a scale and a place (a coarse Hough table); a part's score is its fullest field. One index answers for the
picture, its negative, its mirror image and both.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from intake.imaging.features import Features
from intake.imaging.permute import VARIANTS, Variant, permute_descriptors, permute_points
from intake.imaging.words import WORDS, to_words
from intake.model import PartKey


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part worth verifying, how the query differs from it, and how many weighted votes say so."""

    key: PartKey
    variant: Variant
    score: float


@dataclass(frozen=True, slots=True)
class SearchLimits:
    """How the index searches: words a descriptor is sought under, most differing signs, postings read of one word."""

    words: int
    signs: int
    postings: int
    field_px: float


class CandidateIndex:
    """Postings of all parts taken in. What a query answers never depends on the order they came in."""

    def __init__(self, parts: Iterable[tuple[PartKey, Features]], limits: SearchLimits) -> None:
        self._limits = limits
        self._keys: list[PartKey] = []
        self._fresh: list[tuple[NDArray[np.int32], NDArray[np.uint64], NDArray[np.int32], NDArray[np.float32]]] = []
        self._words = np.zeros(0, np.int32)
        self._signatures = np.zeros(0, np.uint64)
        self._owners = np.zeros(0, np.int32)
        self._points = np.zeros((0, 4), np.float32)
        self._begins = np.zeros(WORDS + 1, np.int64)
        for key, features in parts:
            self.add(key, features)

    def __len__(self) -> int:
        return len(self._keys)

    def add(self, key: PartKey, features: Features) -> None:
        """Take one part in; the next query sorts all that is fresh."""
        owner = np.full(len(features.words), len(self._keys), np.int32)
        self._keys.append(key)
        self._fresh.append((features.words.astype(np.int32), features.signatures, owner, features.points))

    def query(self, features: Features, top: int, leave_out: PartKey | None = None) -> list[Candidate]:
        """The ``top`` parts with the most votes, best first; ``leave_out`` is the part that asks."""
        self._sort_in()
        if not len(features.points) or not len(self._words):
            return []
        score = np.zeros((len(VARIANTS), len(self._keys)), np.float64)
        for number, variant in enumerate(VARIANTS):
            self._vote(features, variant, score[number])
        best = score.max(axis=0)
        order = sorted(np.flatnonzero(best > 0), key=lambda n: (-round(float(best[n]), 6), self._keys[n]))
        chosen = [n for n in order if self._keys[n] != leave_out][:top]
        return [Candidate(self._keys[n], VARIANTS[int(score[:, n].argmax())], float(best[n])) for n in chosen]

    def _sort_in(self) -> None:
        if not self._fresh:
            return
        words, signatures, owners, points = (np.concatenate(parts) for parts in zip(*self._fresh, strict=True))
        self._fresh.clear()
        words = np.concatenate([self._words, words])
        order = np.argsort(words, kind="stable")
        self._words = words[order]
        self._signatures = np.concatenate([self._signatures, signatures])[order]
        self._owners = np.concatenate([self._owners, owners])[order]
        self._points = np.concatenate([self._points, points])[order]
        self._begins = np.searchsorted(self._words, np.arange(WORDS + 1))

    def _vote(self, features: Features, variant: Variant, score: NDArray[np.float64]) -> None:
        """Add to ``score`` the fullest Hough field of every part under one variant."""
        words, signatures = to_words(permute_descriptors(features.descriptors, variant), self._limits.words)
        asker, posting, differing = self._look_up(words, signatures)
        if not len(asker):
            return
        owner = self._owners[posting]
        weight = self._weigh(asker, owner, posting, differing, len(features.points))
        asked, held = permute_points(features.points, variant)[asker], self._points[posting]
        scale = held[:, 2] / asked[:, 2]
        turn = np.radians(held[:, 3] - asked[:, 3])
        middle = (-1 if variant.mirror else 1) * features.width / 2 + 1j * features.height / 2
        place = held[:, 0] + 1j * held[:, 1] + scale * np.exp(1j * turn) * (middle - asked[:, 0] - 1j * asked[:, 1])
        axes = (
            np.log2(scale),
            turn / np.radians(30) % 12,
            place.real / self._limits.field_px,
            place.imag / self._limits.field_px,
        )
        for offset in (0.0, 0.5):
            field = owner.astype(np.int64)
            for axis, size in zip(axes, (16, 12, 64, 64), strict=True):
                field = field * size + np.floor(axis + offset).astype(np.int64) % size
            fields, of = np.unique(field, return_inverse=True)
            votes = np.bincount(of, weight)
            np.maximum.at(score, fields // (16 * 12 * 64 * 64), votes)

    def _look_up(
        self, words: NDArray[np.int32], signatures: NDArray[np.uint64]
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.uint8]]:
        """Which asking descriptor met which posting, and in how many signs they differ.

        A word with too many postings (paper grain, a screen, a stamp on every verso) tells nothing and is passed over.
        """
        asked = words.ravel()
        begins, counts = self._begins[asked], self._begins[asked + 1] - self._begins[asked]
        counts = np.where(counts > self._limits.postings, 0, counts)
        line = np.repeat(np.arange(len(asked)), counts)
        posting = np.arange(len(line)) + np.repeat(begins - (np.cumsum(counts) - counts), counts)
        differing = np.bitwise_count(signatures.ravel()[line] ^ self._signatures[posting])
        near = np.flatnonzero(differing <= self._limits.signs)
        return line[near] // words.shape[1], posting[near], differing[near]

    def _weigh(
        self,
        asker: NDArray[np.intp],
        owner: NDArray[np.int32],
        posting: NDArray[np.intp],
        differing: NDArray[np.uint8],
        askers: int,
    ) -> NDArray[np.float64]:
        """Votes: rare words and like signatures count more, one descriptor's many votes for a part as few."""
        word = self._words[posting]
        holders = (self._begins[word + 1] - self._begins[word]).astype(np.float64)
        weight = np.log1p(len(self._words) / holders / 16) * np.exp(-((differing / (self._limits.signs * 0.75)) ** 2))
        _, pair, times = np.unique(owner.astype(np.int64) * askers + asker, return_inverse=True, return_counts=True)
        shared: NDArray[np.float64] = weight / times[pair]
        return shared
