"""Which keypoints of two pictures are the same places, and the transforms that say so."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from intake.config.match import PairingRules
from intake.imaging.features import Features
from intake.imaging.geometry import (
    Matrix,
    Points,
    apply,
    fit_affine,
    fit_homography,
    fit_similarity,
    is_plausible,
    similarity,
    tell,
)
from intake.imaging.permute import Variant, permute_descriptors, permute_points

Fit = Callable[[Points, Points], Matrix | None]

_MATES = 6
_MOST_VOTERS = 400
_SAME_TURN, _SAME_GROWTH = 0.7, 0.7


@dataclass(frozen=True, slots=True, eq=False)
class Element:
    """Part of a picture that went its own way, moved or scaled: its transform and the keypoints that say so."""

    transform: Matrix
    indices: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """``transform`` maps a's frame pixels to b's; ``indices`` (n, 2) are the keypoints of both that agree.

    ``rival`` is how many keypoints spoke for the best transform that contradicts this one (many where a pattern repeats
    itself), of ``asked`` pairs that had a say. ``elements`` follow other transforms than the rest of the picture.
    """

    variant: Variant
    transform: Matrix
    indices: NDArray[np.intp]
    residual_px: float
    likeness: float
    rival: int
    asked: int
    elements: tuple[Element, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Likely:
    """Pairs of keypoints (i of a, j of b) that may be the same place; ``pa`` are a's in the variant's coordinates."""

    i: NDArray[np.intp]
    j: NDArray[np.intp]
    like: NDArray[np.float32]
    pa: NDArray[np.float64]
    pb: NDArray[np.float64]


def pair(a: Features, b: Features, variant: Variant, rules: PairingRules) -> Pairing | None:
    """The transform that most keypoints agree with, or None when fewer than ``rules.least_votes`` agree loosely.

    Each nearest-neighbour pair of oriented keypoints gives a turn, a scale and a shift; the others vote. The best few
    are refined to an affine transform and a homography among the likeliest mates of every keypoint. The best of them
    then says where to look again, among all keypoints and with a lower bar (guided matching, Hartley & Zisserman 2004).
    """
    if min(len(a.points), len(b.points)) < rules.least_votes:
        return None
    likeness = _likeness(permute_descriptors(a.descriptors, variant), b.descriptors)
    pa, pb = permute_points(a.points, variant).astype(np.float64), b.points.astype(np.float64)
    first, second = _nearest(likeness, rules.ratio)
    votes = _votes(pa[first], pb[second], rules)
    starts = _best(votes, rules)
    if not starts:
        return None
    likely = _mates(likeness, pa, pb, rules.likeness)
    hypotheses = [_similarity(pa[first[k]], pb[second[k]]) for k in starts]
    found = [_refine(likely, start, a, rules) for start in hypotheses]
    best = max(range(len(found)), key=lambda n: (len(found[n][1]), -found[n][2]))
    wide = _guided(likeness, pa, pb, found[best][0], rules)
    transform, pairs, residuals = _settle(wide, found[best][0], a, rules)
    if len(pairs) < rules.least_votes:
        return None
    mirror = np.diag([-1.0 if variant.mirror else 1.0, 1.0, 1.0])
    elements = _elements(likely, first, second, pairs, rules)
    explained = _misses(transform, pa[first], pb[second]) < 2 * rules.loose_px
    unlike = [int((votes[k] & ~explained).sum()) for k in starts]
    return Pairing(
        variant,
        transform @ mirror,
        pairs,
        float(np.sqrt(np.mean(residuals**2))),
        float(likeness[pairs[:, 0], pairs[:, 1]].mean()),
        max(unlike),
        len(first),
        tuple(Element(e.transform @ mirror, e.indices) for e in elements),
    )


def _likeness(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Cosines. Sums of whole numbers below 2**24, so every machine gets the same."""
    left, right = a.astype(np.float32), b.astype(np.float32)
    lengths = np.sqrt((left**2).sum(axis=1))[:, None] * np.sqrt((right**2).sum(axis=1))
    product: NDArray[np.float32] = (left @ right.T) / np.maximum(lengths, 1)
    return product


def _nearest(likeness: NDArray[np.float32], ratio: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs whose nearest neighbour, seen from either side, is clearly nearer than the second (Lowe 2004)."""
    i, j, _ = _nearest_of(likeness, ratio)
    back_j, back_i, _ = _nearest_of(likeness.T, ratio)
    code = np.unique(np.concatenate([i * likeness.shape[1] + j, back_i * likeness.shape[1] + back_j]))
    one, other = code // likeness.shape[1], code % likeness.shape[1]
    if len(code) > _MOST_VOTERS:
        most_like = np.sort(np.lexsort((code, -likeness[one, other]))[:_MOST_VOTERS])
        one, other = one[most_like], other[most_like]
    return one, other


def _nearest_of(
    likeness: NDArray[np.float32], ratio: float
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float32]]:
    best = likeness.argmax(axis=1)
    rows = np.arange(len(best))
    two = np.partition(likeness, -2, axis=1)[:, -2:]
    top, next_top = two[:, 1], two[:, 0]
    clear = np.maximum(2 - 2 * top, 0) < ratio**2 * np.maximum(2 - 2 * next_top, 0)
    return rows[clear], best[clear], top[clear]


def _mates(likeness: NDArray[np.float32], pa: NDArray[np.float64], pb: NDArray[np.float64], least: float) -> _Likely:
    """The likeliest few mates of every keypoint."""
    count = min(_MATES, likeness.shape[1])
    some = np.sort(np.argpartition(-likeness, count - 1, axis=1)[:, :count], axis=1)
    like = np.take_along_axis(likeness, some, axis=1)
    i, k = np.nonzero(like >= least)
    return _Likely(i, some[i, k], like[i, k], pa, pb)


def _similarity(one: NDArray[np.float64], other: NDArray[np.float64]) -> Matrix:
    factor = other[2] / one[2] * np.exp(1j * np.radians(other[3] - one[3]))
    shift = complex(other[0], other[1]) - factor * complex(one[0], one[1])
    return similarity(complex(factor), complex(shift))


def _votes(pa: NDArray[np.float64], pb: NDArray[np.float64], rules: PairingRules) -> NDArray[np.bool_]:
    """(n, n): whether pair k comes to lie where the similarity of pair r says."""
    one, other = pa.astype(np.float32), pb.astype(np.float32)
    scale, turn = other[:, 2] / one[:, 2], np.radians(other[:, 3] - one[:, 3])
    cos, sin = scale * np.cos(turn), scale * np.sin(turn)
    shift_x = other[:, 0] - cos * one[:, 0] + sin * one[:, 1]
    shift_y = other[:, 1] - sin * one[:, 0] - cos * one[:, 1]
    dx = cos[:, None] * one[:, 0] - sin[:, None] * one[:, 1] + shift_x[:, None] - other[:, 0]
    dy = sin[:, None] * one[:, 0] + cos[:, None] * one[:, 1] + shift_y[:, None] - other[:, 1]
    reach = rules.loose_px * np.minimum(1, scale) + 2 * np.maximum(1, scale)
    near: NDArray[np.bool_] = dx * dx + dy * dy < (reach * reach)[:, None]
    near &= np.cos(turn[:, None] - turn) > _SAME_TURN
    growth = np.log(scale)
    near &= np.abs(growth[:, None] - growth) < _SAME_GROWTH
    near[(scale > rules.most_scale) | (scale < 1 / rules.most_scale)] = False
    return near


def _best(votes: NDArray[np.bool_], rules: PairingRules) -> list[int]:
    """The rows with the most votes, most first, none a repeat of one before it."""
    counts = votes.sum(axis=1)
    kept: list[int] = []
    for candidate in np.lexsort((np.arange(len(counts)), -counts)):
        if counts[candidate] < rules.least_votes or len(kept) == rules.hypotheses:
            break
        if all((votes[candidate] & votes[k]).sum() < 0.6 * counts[candidate] for k in kept):
            kept.append(int(candidate))
    return kept


def _refine(likely: _Likely, start: Matrix, a: Features, rules: PairingRules) -> tuple[Matrix, NDArray[np.intp], float]:
    transform = start
    for radius, least, fit in (
        (rules.loose_px, 3, fit_similarity),
        (rules.loose_px, 6, fit_affine),
        (rules.loose_px / 2, 6, fit_affine),
        (rules.tight_px * 1.5, 12, fit_homography),
    ):
        pairs, _ = _agreeing(likely, transform, radius)
        transform = _fitted(likely, pairs, least, fit, a, rules, transform)
    pairs, residuals = _agreeing(likely, transform, rules.tight_px)
    return transform, pairs, float(np.sqrt(np.mean(residuals**2))) if len(pairs) else np.inf


def _settle(
    likely: _Likely, transform: Matrix, a: Features, rules: PairingRules
) -> tuple[Matrix, NDArray[np.intp], NDArray[np.float64]]:
    """Fit anew among what guided matching found."""
    for radius, least, fit in ((rules.tight_px * 1.5, 6, fit_affine), (rules.tight_px, 12, fit_homography)):
        pairs, _ = _agreeing(likely, transform, radius)
        trial = _fitted(likely, pairs, least, fit, a, rules, transform)
        if len(_agreeing(likely, trial, rules.tight_px)[0]) >= len(_agreeing(likely, transform, rules.tight_px)[0]):
            transform = trial
    return transform, *_agreeing(likely, transform, rules.tight_px)


def _fitted(
    likely: _Likely, pairs: NDArray[np.intp], least: int, fit: Fit, a: Features, rules: PairingRules, before: Matrix
) -> Matrix:
    if len(pairs) < least:
        return before
    fitted = fit(likely.pa[pairs[:, 0], :2], likely.pb[pairs[:, 1], :2])
    if fitted is None:
        return before
    low = likely.pa[:, :2].min(axis=0)
    moved = fitted @ np.array([[1, 0, low[0]], [0, 1, low[1]], [0, 0, 1.0]])
    plausible = is_plausible(moved, a.width, a.height, most_stretch=rules.most_stretch, most_scale=rules.most_scale)
    return fitted if plausible else before


def _guided(
    likeness: NDArray[np.float32],
    pa: NDArray[np.float64],
    pb: NDArray[np.float64],
    transform: Matrix,
    rules: PairingRules,
) -> _Likely:
    """All pairs that the transform brings near each other and that are somewhat alike."""
    laid = apply(transform, pa[:, :2]).astype(np.float32)
    there = pb[:, :2].astype(np.float32)
    growth = tell(transform, (float(pa[:, 0].mean()), float(pa[:, 1].mean()))).scale
    reach = rules.tight_px * 2.5 * max(1.0, growth)
    square = (laid[:, 0, None] - there[:, 0]) ** 2 + (laid[:, 1, None] - there[:, 1]) ** 2
    i, j = np.nonzero((square < reach * reach) & (likeness >= rules.guided_likeness))
    return _Likely(i, j, likeness[i, j], pa, pb)


def _misses(transform: Matrix, pa: NDArray[np.float64], pb: NDArray[np.float64]) -> NDArray[np.float64]:
    told = tell(transform, (float(pa[:, 0].mean()), float(pa[:, 1].mean())))
    missed: NDArray[np.float64] = np.hypot(*(apply(transform, pa[:, :2]) - pb[:, :2]).T) / max(1.0, told.scale)
    return missed


def _agreeing(likely: _Likely, transform: Matrix, radius_px: float) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """(n, 2) one-to-one pairs that ``transform`` brings within the radius, and by how far they miss."""
    told = tell(transform, (float(likely.pa[:, 0].mean()), float(likely.pa[:, 1].mean())))
    miss = np.hypot(*(apply(transform, likely.pa[:, :2])[likely.i] - likely.pb[likely.j, :2]).T)
    miss = miss / max(1.0, told.scale)
    near = np.flatnonzero(miss < radius_px)
    i, j = likely.i[near], likely.j[near]
    turn = np.radians(likely.pb[j, 3] - likely.pa[i, 3] - told.rotation)
    growth = np.log(likely.pb[j, 2] / likely.pa[i, 2] / told.scale)
    near = near[(np.cos(turn) > _SAME_TURN) & (np.abs(growth) < _SAME_GROWTH)]
    best = near[np.lexsort((likely.j[near], likely.i[near], -likely.like[near]))]
    _, first_i = np.unique(likely.i[best], return_index=True)
    best = best[np.sort(first_i)]
    _, first_j = np.unique(likely.j[best], return_index=True)
    best = best[np.sort(first_j)]
    return np.column_stack([likely.i[best], likely.j[best]]), miss[best]


def _elements(
    likely: _Likely,
    first: NDArray[np.intp],
    second: NDArray[np.intp],
    pairs: NDArray[np.intp],
    rules: PairingRules,
) -> list[Element]:
    """Up to two groups of what is left that agree among themselves: elements moved or scaled."""
    found: list[Element] = []
    taken_a, taken_b = set(pairs[:, 0].tolist()), set(pairs[:, 1].tolist())
    for _ in range(rules.elements):
        left = [
            n
            for n, (i, j) in enumerate(zip(first.tolist(), second.tolist(), strict=True))
            if i not in taken_a and j not in taken_b
        ]
        if len(left) < rules.element_places:
            break
        pa, pb = likely.pa[first[left]], likely.pb[second[left]]
        votes = _votes(pa, pb, rules)
        counts = votes.sum(axis=1)
        best = int(counts.argmax())
        if counts[best] < rules.element_places:
            break
        chosen = np.flatnonzero(votes[best])
        fitted = fit_similarity(pa[chosen, :2], pb[chosen, :2])
        indices = np.column_stack([first[left][chosen], second[left][chosen]])
        found.append(Element(fitted, indices))
        taken_a |= set(indices[:, 0].tolist())
        taken_b |= set(indices[:, 1].tolist())
    return found
