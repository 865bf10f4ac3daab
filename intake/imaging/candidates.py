"""The index: which parts may show the same thing as this one, without comparing all pairs.

An inverted file of words (see words.py). Each descriptor found under the same word with a like signature votes for a
turn, a scale and a place (a coarse Hough table); a part's score is its fullest field. One index answers for the
picture, its negative, its mirror image and both. It is 16 bytes a keypoint, and can be kept in a folder and mapped from
there; it can always be made anew from the fingerprints.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from intake.imaging.features import Features
from intake.imaging.permute import VARIANTS, Variant, permute_descriptors, permute_points
from intake.imaging.words import WORDS, to_words
from intake.model import PartKey

_PLACE_PX, _SIZES_PER_OCTAVE, _TURN_DEG = 4.0, 20, 360 / 256
_FIELDS = (16, 12, 64, 64)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part worth verifying, how the query differs from it, and how many weighted votes say so."""

    key: PartKey
    variant: Variant
    score: float


@dataclass(frozen=True, slots=True)
class SearchLimits:
    """How the index searches: words a descriptor is sought under, most differing signs, postings read of one word,
    how many parts are named however few their votes, and how far others must rise above chance."""

    words: int
    signs: int
    postings: int
    field_px: float
    sure: int
    rise: float


@dataclass(frozen=True, slots=True, eq=False)
class Postings:
    """Keypoints sorted by word, then part: word w's are those from ``begins[w]`` to ``begins[w + 1]``.

    ``owners`` are places in ``keys``; ``places`` (n, 4) uint8: x and y in 4 px, size in 1/20 octave, angle in 1.4
    degrees.
    """

    keys: tuple[PartKey, ...]
    begins: NDArray[np.int64]
    signatures: NDArray[np.uint64]
    owners: NDArray[np.int32]
    places: NDArray[np.uint8]

    def save(self, folder: Path, seen: Iterable[str]) -> None:
        """Write a new ``folder``, which bears its name only when it is whole, with a note of what was ``seen``."""
        unfinished = folder.with_name(f"{folder.name}.part")
        unfinished.mkdir(exist_ok=True)
        for name in ("begins", "signatures", "owners", "places"):
            np.save(unfinished / f"{name}.npy", getattr(self, name))
        (unfinished / "keys.json").write_text(json.dumps([[k.digest, k.part] for k in self.keys]), "utf-8")
        (unfinished / "seen.json").write_text(json.dumps(sorted(seen)), "utf-8")
        unfinished.replace(folder)

    @classmethod
    def load(cls, folder: Path) -> "Postings":
        """Map what ``save`` wrote. Raises OSError or ValueError when it is not whole."""
        keys = tuple(PartKey(str(d), int(p)) for d, p in json.loads((folder / "keys.json").read_text("utf-8")))
        arrays = [np.load(folder / f"{n}.npy", mmap_mode="r") for n in ("begins", "signatures", "owners", "places")]
        return cls(keys, *arrays)


def post(parts: Iterable[tuple[PartKey, Features]], before: Postings | None = None) -> Postings:
    """The postings of ``parts`` and of those in ``before``. The order in which parts come does not matter."""
    keys = list(before.keys) if before else []
    words = [np.repeat(np.arange(WORDS), np.diff(before.begins))] if before else []
    signatures = [np.asarray(before.signatures)] if before else []
    owners = [np.asarray(before.owners)] if before else []
    places = [np.asarray(before.places)] if before else []
    for key, features in parts:
        found, signed = to_words(features.descriptors, 1)
        words.append(found[:, 0].astype(np.int64))
        signatures.append(signed[:, 0])
        owners.append(np.full(len(found), len(keys), np.int32))
        places.append(_packed(features.points))
        keys.append(key)
    if not keys:
        return Postings((), np.zeros(WORDS + 1, np.int64), *_nothing())
    rank = np.empty(len(keys), np.int32)
    order_of_keys = sorted(range(len(keys)), key=keys.__getitem__)
    rank[order_of_keys] = np.arange(len(keys))
    word, owner = np.concatenate(words), rank[np.concatenate(owners)]
    order = np.argsort(word * len(keys) + owner, kind="stable")
    begins = np.searchsorted(word[order], np.arange(WORDS + 1))
    sorted_keys = tuple(keys[n] for n in order_of_keys)
    return Postings(sorted_keys, begins, np.concatenate(signatures)[order], owner[order], np.concatenate(places)[order])


def without(postings: Postings, gone: set[PartKey]) -> Postings:
    """The postings of all other parts."""
    stays = np.array([key not in gone for key in postings.keys], bool)
    number = np.cumsum(stays) - 1
    kept = stays[postings.owners]
    begins = np.r_[0, np.cumsum(kept)][postings.begins]
    keys = tuple(key for key in postings.keys if key not in gone)
    owners = number[postings.owners[kept]].astype(np.int32)
    return Postings(keys, begins, postings.signatures[kept], owners, postings.places[kept])


def _nothing() -> tuple[NDArray[np.uint64], NDArray[np.int32], NDArray[np.uint8]]:
    return np.zeros(0, np.uint64), np.zeros(0, np.int32), np.zeros((0, 4), np.uint8)


def _packed(points: NDArray[np.float32]) -> NDArray[np.uint8]:
    size = np.log2(np.maximum(points[:, 2], 1)) * _SIZES_PER_OCTAVE
    columns = (points[:, 0] / _PLACE_PX, points[:, 1] / _PLACE_PX, size)
    turn = np.rint(points[:, 3] / _TURN_DEG).astype(np.int64) % 256
    return np.column_stack([*(np.clip(np.rint(c), 0, 255) for c in columns), turn]).astype(np.uint8)


class CandidateIndex:
    """Asks postings. What a query answers depends on the parts that are there, not on how they came."""

    def __init__(self, postings: Postings, limits: SearchLimits) -> None:
        self._held = postings
        self._limits = limits
        counts = np.diff(postings.begins)
        # A word with too many postings (paper grain, a screen, a stamp on every verso) tells nothing: passed over.
        self._counts = np.where(counts > limits.postings, 0, counts)
        self._rarity = np.log1p(len(postings.owners) / np.maximum(counts, 1) / 16)

    def __len__(self) -> int:
        return len(self._held.keys)

    @property
    def keys(self) -> tuple[PartKey, ...]:
        """The parts that it knows, sorted."""
        return self._held.keys

    def query(self, features: Features, top: int, leave_out: PartKey | None = None) -> list[Candidate]:
        """At most ``top`` parts with the most votes, best first; ``leave_out`` is the part that asks.

        Behind the first few only those that rise above what chance gives: the score of the ranks that hold no mates.
        """
        keys = self._held.keys
        if not len(features.points) or not keys:
            return []
        score = np.zeros((len(VARIANTS), len(keys)), np.float64)
        for number, variant in enumerate(VARIANTS):
            self._vote(features, variant, score[number])
        best = np.round(score.max(axis=0), 6)
        order = np.lexsort((np.arange(len(keys)), -best))[: top + 1]
        chosen = [int(n) for n in order if best[n] > 0 and keys[n] != leave_out][:top]
        chance = float(np.median(best[chosen[top // 2 :]])) if len(chosen) == top else 0.0
        kept = [n for rank, n in enumerate(chosen) if rank < self._limits.sure or best[n] >= self._limits.rise * chance]
        return [Candidate(keys[n], VARIANTS[int(score[:, n].argmax())], float(best[n])) for n in kept]

    def _vote(self, features: Features, variant: Variant, score: NDArray[np.float64]) -> None:
        """Add to ``score`` the fullest Hough field of every part under one variant."""
        words, signatures = to_words(permute_descriptors(features.descriptors, variant), self._limits.words)
        asker, word, posting, differing = self._look_up(words, signatures)
        if not len(asker):
            return
        owner = self._held.owners[posting]
        weight = self._weigh(asker, owner, word, differing, len(features.points))
        asked, packed = permute_points(features.points, variant)[asker], self._held.places[posting].astype(np.float32)
        growth = packed[:, 2] / _SIZES_PER_OCTAVE - np.log2(asked[:, 2])
        scale, turn = np.exp2(growth), np.radians(packed[:, 3] * _TURN_DEG - asked[:, 3])
        cos, sin = scale * np.cos(turn), scale * np.sin(turn)
        dx = (-1 if variant.mirror else 1) * features.width / 2 - asked[:, 0]
        dy = features.height / 2 - asked[:, 1]
        axes = (
            growth,
            turn / np.float32(np.radians(30)) % 12,
            (packed[:, 0] * _PLACE_PX + cos * dx - sin * dy) / self._limits.field_px,
            (packed[:, 1] * _PLACE_PX + sin * dx + cos * dy) / self._limits.field_px,
        )
        for offset in (0.0, 0.5):
            field = owner.astype(np.int64)
            for axis, size in zip(axes, _FIELDS, strict=True):
                field = field * size + np.floor(axis + offset).astype(np.int64) % size
            order = np.argsort(field, kind="stable")
            begins = np.flatnonzero(np.r_[True, np.diff(field[order]) != 0])
            votes = np.add.reduceat(weight[order], begins)
            np.maximum.at(score, owner[order][begins], votes)

    def _look_up(
        self, words: NDArray[np.int32], signatures: NDArray[np.uint64]
    ) -> tuple[NDArray[np.intp], NDArray[np.int32], NDArray[np.intp], NDArray[np.uint8]]:
        """Which asking descriptor met, under which word, which posting, and in how many signs they differ."""
        asked = words.ravel()
        counts = self._counts[asked]
        line = np.repeat(np.arange(len(asked)), counts)
        posting = np.arange(len(line)) + np.repeat(self._held.begins[asked] - (np.cumsum(counts) - counts), counts)
        differing = np.bitwise_count(signatures.ravel()[line] ^ self._held.signatures[posting])
        near = np.flatnonzero(differing <= self._limits.signs)
        line = line[near]
        return line // words.shape[1], asked[line], posting[near], differing[near]

    def _weigh(
        self,
        asker: NDArray[np.intp],
        owner: NDArray[np.int32],
        word: NDArray[np.int32],
        differing: NDArray[np.uint8],
        askers: int,
    ) -> NDArray[np.float64]:
        """Votes: rare words and like signatures count more, one descriptor's many votes for a part as few."""
        weight = self._rarity[word] * np.exp(-((differing / (self._limits.signs * 0.75)) ** 2))
        _, pair, times = np.unique(owner.astype(np.int64) * askers + asker, return_inverse=True, return_counts=True)
        shared: NDArray[np.float64] = weight / times[pair]
        return shared
