"""Fingerprints of scans that never were, in any number, drawn from those of real ones; number n is always the same."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.features import Features, pack_frame
from intake.imaging.permute import VARIANTS, permute_descriptors, permute_points

FAMILY = 4
_DONORS = 5
_CHANCES = (0.5, 0.25, 0.15, 0.1)  # of the four variants among mates

Keypoints = tuple[NDArray[np.float32], NDArray[np.uint8]]


class DrawnArchive:
    """Families of four: a picture and three mates, which share a part of its keypoints and differ as film and proof do.

    A picture's keypoints come from five real scans, each as it is or mirrored or inverted, so that words are as common
    and as alike within a scan as they really are; their places are shuffled, so that none of them shows the same. A
    scan's small grey picture is a real one's: agreement costs what it does, but what it says means nothing.
    """

    def __init__(self, real: Sequence[Features], seed: int) -> None:
        self._real = [f for f in real if len(f.points) >= 200]
        self._seed = seed
        self._last: tuple[int, Features] | None = None

    def made(self, number: int) -> Features:
        """Scan ``number``."""
        family, role = divmod(number, FAMILY)
        if self._last is None or self._last[0] != family:
            self._last = family, self._picture(family)
        first = self._last[1]
        return self._mate(first, np.random.default_rng([self._seed, family, role])) if role else first

    def _picture(self, family: int) -> Features:
        rng = np.random.default_rng([self._seed, family])
        model = self._real[int(rng.integers(len(self._real)))]
        points, descriptors = self._strange(rng, len(model.points), model)
        return _like(model, points, descriptors, model.frame)

    def _strange(self, rng: np.random.Generator, count: int, model: Features) -> Keypoints:
        points, descriptors = [], []
        for share in np.array_split(np.arange(count), _DONORS):
            donor = self._real[int(rng.integers(len(self._real)))]
            chosen = rng.integers(len(donor.points), size=len(share))
            variant = VARIANTS[int(rng.integers(len(VARIANTS)))]
            moved = donor.points[chosen].copy()
            places = rng.permutation(moved[:, :2]) / (donor.width, donor.height)
            moved[:, :2] = places * (model.width, model.height)
            moved[:, 3] = rng.uniform(0, 360, len(share))
            points.append(moved)
            descriptors.append(permute_descriptors(donor.descriptors[chosen], variant))
        return np.concatenate(points), _shaken(rng, np.concatenate(descriptors), 0.7)

    def _mate(self, first: Features, rng: np.random.Generator) -> Features:
        count = len(first.points)
        kept = rng.permutation(count)[: int(count * rng.uniform(0.25, 0.6))]
        variant = VARIANTS[int(rng.choice(len(VARIANTS), p=_CHANCES))]
        points = permute_points(first.points[kept], variant)
        points[:, 0] += first.width if variant.mirror else 0
        points[:, :2] += rng.uniform(-12, 12, 2) + rng.normal(0, 1.2, (len(kept), 2))
        points[:, :2] *= rng.uniform(0.94, 1.0)
        points[:, 2] *= np.exp(rng.normal(0, 0.06, len(kept)))
        points[:, 3] += rng.normal(0, 5, len(kept))
        points[:, :2] = np.clip(points[:, :2], 0, (first.width - 1, first.height - 1))
        alike = _shaken(rng, permute_descriptors(first.descriptors[kept], variant), 1.4)
        others, unlike = self._strange(rng, count - len(kept), first)
        frame = cv2.flip(first.frame, 1) if variant.mirror else first.frame
        frame = 255 - frame if variant.polarity_flip else frame
        return _like(first, np.concatenate([points, others]), np.concatenate([alike, unlike]), np.asarray(frame))


def _shaken(rng: np.random.Generator, descriptors: NDArray[np.uint8], steps: float) -> NDArray[np.uint8]:
    """What is there changes, what is empty stays so: cosines of about 0.97 at one step, 0.94 at one and a half."""
    noise = rng.normal(0, steps, descriptors.shape).astype(np.float32) * (descriptors > 0)
    return np.clip(np.rint(descriptors + noise), 0, 15).astype(np.uint8)


def _like(
    model: Features, points: NDArray[np.float32], descriptors: NDArray[np.uint8], frame: NDArray[np.uint8]
) -> Features:
    packed = (frame, model.frame_webp) if frame is model.frame else pack_frame(frame)
    points = points.astype(np.float32)
    points[:, 3] %= 360
    return Features(points, descriptors, *packed, model.stored_per_frame, model.frame_box, "unknown")
