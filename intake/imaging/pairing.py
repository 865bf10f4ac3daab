"""Which keypoints of two pictures are the same places, and the transform that says so."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from intake.config.match import PairingRules
from intake.imaging.features import Features
from intake.imaging.geometry import (
    Matrix,
    apply,
    fit_affine,
    fit_homography,
    fit_similarity,
    is_plausible,
    similarity,
    tell,
)
from intake.imaging.permute import ROOT_SCALE, Variant, permute_descriptors, permute_points


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """``transform`` maps a's frame pixels to b's; ``indices`` (n, 2) are the keypoints of both that agree."""

    variant: Variant
    transform: Matrix
    indices: NDArray[np.intp]
    residual_px: float


@dataclass(frozen=True, slots=True, eq=False)
class _Likely:
    """Every pair of keypoints alike enough to be the same place, with a's keypoints in the variant's coordinates."""

    i: NDArray[np.intp]
    j: NDArray[np.intp]
    like: NDArray[np.float32]
    pa: NDArray[np.float64]
    pb: NDArray[np.float64]


def pair(a: Features, b: Features, variant: Variant, rules: PairingRules) -> Pairing | None:
    """The transform that most keypoints agree with, or None when fewer than ``rules.least_votes`` agree loosely.

    Each nearest-neighbour pair of oriented keypoints gives a turn, a scale and a shift; the others vote. The best few
    are refined to an affine transform and a homography, each time matching again where the transform says to look.
    """
    if min(len(a.points), len(b.points)) < rules.least_votes:
        return None
    likeness = _likeness(permute_descriptors(a.descriptors, variant), b.descriptors)
    pa, pb = permute_points(a.points, variant).astype(np.float64), b.points.astype(np.float64)
    first, second = _nearest(likeness, rules.ratio)
    hypotheses = _vote(pa[first], pb[second], rules)
    if not hypotheses:
        return None
    i, j = np.nonzero(likeness >= rules.likeness)
    likely = _Likely(i, j, likeness[i, j], pa, pb)
    found = [_refine(likely, start, a, rules) for start in hypotheses]
    transform, indices, residual = max(found, key=lambda one: (len(one[1]), -one[2]))
    if len(indices) < rules.least_votes:
        return None
    mirror = np.diag([-1.0 if variant.mirror else 1.0, 1.0, 1.0])
    return Pairing(variant, transform @ mirror, indices, residual)


def _likeness(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Cosines. Sums of whole numbers below 2**24, so every machine gets the same."""
    product: NDArray[np.float32] = a.astype(np.float32) @ b.astype(np.float32).T
    return product / np.float32(ROOT_SCALE**2)


def _nearest(likeness: NDArray[np.float32], ratio: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs whose nearest neighbour is clearly nearer than the second (Lowe 2004)."""
    best = likeness.argmax(axis=1)
    rows = np.arange(len(best))
    top = likeness[rows, best]
    rest = likeness.copy()
    rest[rows, best] = -1
    gap = np.sqrt(np.maximum(2 - 2 * top, 0)) < ratio * np.sqrt(np.maximum(2 - 2 * rest.max(axis=1), 0))
    return rows[gap], best[gap]


def _vote(pa: NDArray[np.float64], pb: NDArray[np.float64], rules: PairingRules) -> list[Matrix]:
    """The similarities with the most votes, most first, none a repeat of one before it."""
    za, zb = pa[:, 0] + 1j * pa[:, 1], pb[:, 0] + 1j * pb[:, 1]
    scale, turn = pb[:, 2] / pa[:, 2], np.radians(pb[:, 3] - pa[:, 3])
    factor = scale * np.exp(1j * turn)
    shift = zb - factor * za
    size = np.abs(factor)[:, None]
    near = np.abs(factor[:, None] * za + shift[:, None] - zb) < (
        rules.loose_px * np.minimum(1, size) + 2 * np.maximum(1, size)
    )
    alike = np.cos(turn[:, None] - turn) > 0.7
    alike &= np.abs(np.log(scale[:, None] / scale)) < 0.7
    votes = near & alike
    votes[(scale > rules.most_scale) | (scale < 1 / rules.most_scale)] = False
    counts = votes.sum(axis=1)
    kept: list[int] = []
    for candidate in np.lexsort((np.arange(len(counts)), -counts)):
        if counts[candidate] < rules.least_votes or len(kept) == rules.hypotheses:
            break
        if all((votes[candidate] & votes[k]).sum() < 0.6 * counts[candidate] for k in kept):
            kept.append(int(candidate))
    return [similarity(complex(factor[k]), complex(shift[k])) for k in kept]


def _refine(likely: _Likely, start: Matrix, a: Features, rules: PairingRules) -> tuple[Matrix, NDArray[np.intp], float]:
    transform = start
    low = likely.pa[:, :2].min(axis=0)
    for radius, least, fit in (
        (rules.loose_px, 3, fit_similarity),
        (rules.loose_px, 6, fit_affine),
        (rules.loose_px / 2, 6, fit_affine),
        (rules.tight_px * 1.5, 12, fit_homography),
        (rules.tight_px, 12, fit_homography),
    ):
        pairs, _ = _agreeing(likely, transform, radius)
        if len(pairs) < least:
            continue
        source, target = likely.pa[pairs[:, 0], :2], likely.pb[pairs[:, 1], :2]
        fitted = fit(source, target)
        if fitted is None:
            continue
        moved = fitted @ np.array([[1, 0, low[0]], [0, 1, low[1]], [0, 0, 1.0]])
        if is_plausible(moved, a.width, a.height, most_stretch=rules.most_stretch, most_scale=rules.most_scale):
            transform = fitted
    pairs, residuals = _agreeing(likely, transform, rules.tight_px)
    return transform, pairs, float(np.sqrt(np.mean(residuals**2))) if len(pairs) else np.inf


def _agreeing(likely: _Likely, transform: Matrix, radius_px: float) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """(n, 2) one-to-one pairs that ``transform`` brings within the radius, and by how far they miss."""
    told = tell(transform, (float(likely.pa[:, 0].mean()), float(likely.pa[:, 1].mean())))
    miss = np.hypot(*(apply(transform, likely.pa[:, :2])[likely.i] - likely.pb[likely.j, :2]).T)
    miss = miss / max(1.0, told.scale)
    turn = np.radians(likely.pb[likely.j, 3] - likely.pa[likely.i, 3] - told.rotation)
    growth = np.log(likely.pb[likely.j, 2] / likely.pa[likely.i, 2] / told.scale)
    near = np.flatnonzero((miss < radius_px) & (np.cos(turn) > 0.7) & (np.abs(growth) < 0.7))
    best = near[np.lexsort((likely.j[near], likely.i[near], -likely.like[near]))]
    _, first_i = np.unique(likely.i[best], return_index=True)
    best = best[np.sort(first_i)]
    _, first_j = np.unique(likely.j[best], return_index=True)
    best = best[np.sort(first_j)]
    return np.column_stack([likely.i[best], likely.j[best]]), miss[best]
