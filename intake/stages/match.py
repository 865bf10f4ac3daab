"""Verify one candidate pair: the geometry, the agreement, and the evidence that adds up to a probability."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from intake.config.match import MatchRules, Weights
from intake.imaging.agreement import Agreement, agree
from intake.imaging.features import Features
from intake.imaging.geometry import Matrix, apply, frame_to_stored, tell
from intake.imaging.pairing import Pairing, pair
from intake.imaging.permute import VARIANTS, Variant
from intake.model import Evidence, Match, PartKey, Relation

VERSION = 4

# The median of strange pairs with a geometry on the tuning archive of tests/bench. Likeness is told from here, so that
# the weight shown is that of being more or less alike than chance; with the prior any value gives the same sum.
_STRANGERS_ALIKE = 0.83


@dataclass(frozen=True, slots=True)
class Measures:
    """What was measured of a pair. Shares run from 0 to 1; areas are shares of the picture that is covered more."""

    places: int
    asked: int
    likeness: float
    rival: int
    moved: int
    chance: float
    agreeing_area: float
    unlike_area: float
    close_share: float
    coverage_a: float
    coverage_b: float


def verify(
    a_key: PartKey, a: Features, b_key: PartKey, b: Features, hints: Iterable[Variant], rules: MatchRules
) -> Match | None:
    """The match of two parts, or None when nothing worth showing joins them.

    ``hints`` are the variants that the index proposed; without any, all four are tried. The order of the parts does not
    matter. The probability comes from weights fitted on generated pairs (config/match.toml says which).
    """
    if b_key < a_key:
        a_key, a, b_key, b = b_key, b, a_key, a
    measured = measure(a, b, hints, rules)
    if measured is None:
        return None
    best, measures = measured
    alike_kinds = a.kind == b.kind != "unknown"
    is_element = (a.kind in rules.element_kinds) != (b.kind in rules.element_kinds)
    judged = judge(measures, best.variant, rules, alike_kinds=alike_kinds, is_element=is_element)
    return None if judged is None else _match(a_key, a, b_key, b, best, measures, judged)


def measure(a: Features, b: Features, hints: Iterable[Variant], rules: MatchRules) -> tuple[Pairing, Measures] | None:
    """The best geometry among ``hints`` (all four variants when there are none) and what it shows; None without any."""
    wanted = set(hints) or set(VARIANTS)
    found = [pair(a, b, variant, rules.pairing) for variant in VARIANTS if variant in wanted]
    best = max((f for f in found if f), key=lambda f: (len(f.indices), -f.residual_px), default=None)
    if best is None or len(best.indices) < rules.least_places:
        return None
    agreement = agree(a, b, best.transform, polarity_flip=best.variant.polarity_flip)
    return best, _measures(best, agreement, rules)


def _measures(pairing: Pairing, agreement: Agreement, rules: MatchRules) -> Measures:
    cells, agreeing = _count(agreement.alike, rules.agreeing_correlation)
    contrary = _count(agreement.contrary, rules.agreeing_correlation)[1]
    area = max(agreement.cell_a, agreement.cell_b)
    return Measures(
        places=len(pairing.indices),
        asked=max(pairing.asked, len(pairing.indices)),
        likeness=pairing.likeness,
        rival=pairing.rival,
        moved=sum(len(e.indices) for e in pairing.elements),
        chance=contrary / max(cells, 1),
        agreeing_area=min(1.0, agreeing * area),
        unlike_area=min(1.0, (cells - agreeing) * area),
        close_share=_count(agreement.alike, rules.same_piece.close_correlation)[1] / max(cells, 1),
        coverage_a=agreement.overlap_a,
        coverage_b=agreement.overlap_b,
    )


def _count(correlations: NDArray[np.float32], least: float) -> tuple[int, int]:
    """How many cells say anything, and how many of them at least ``least``."""
    told = correlations[~np.isnan(correlations)]
    return len(told), int((told > least).sum())


def judge(
    measures: Measures, variant: Variant, rules: MatchRules, *, alike_kinds: bool, is_element: bool
) -> tuple[Relation, tuple[Evidence, ...]] | None:
    """The relation that the evidence speaks for, or None when none reaches ``rules.least_probability``.

    Two scans are of one piece only where both were taken for one kind of thing; a shared element is offered only where
    the design is not the same, or where one of the two is an element alone.
    """
    same = _weigh(measures, rules.same_design, rules.most_weight)
    if is_element:
        seen = max(same, _weigh(measures, rules.shared_element, rules.most_weight), key=_sum)
        words = "one of the two is an element alone, as lettering is: in the other, but not its design"
        told = (*seen, Evidence("element", words, 0.0))
        return ("shared_element", told) if _probability(_sum(seen)) >= rules.least_probability else None
    if _sum(same) >= 0:
        piece = _same_piece(measures, variant, rules) if alike_kinds else None
        return ("same_piece", piece) if piece else ("same_design", same)
    shared = _weigh(measures, rules.shared_element, rules.most_weight)
    if _probability(max(_sum(same), _sum(shared))) < rules.least_probability:
        return None
    return ("same_design", same) if _sum(same) >= _sum(shared) else ("shared_element", shared)


def terms(m: Measures) -> list[tuple[str, str, float]]:
    """Every measure as (name of its weight, words for people, value to be weighed)."""
    share = m.places / m.asked
    return [
        ("prior", "before looking", 1.0),
        ("places", f"{m.places} places found on both, {share:.0%} of those that had a say", share),
        ("likeness", f"place for place {m.likeness:.0%} alike, strangers about 83%", m.likeness - _STRANGERS_ALIKE),
        ("rival", f"{m.rival} places speak for another overlay", math.log1p(m.rival)),
        ("moved", f"{m.moved} more agree where an element was moved or scaled", math.log1p(m.moved)),
        ("agreeing_area", f"light and dark agree on {m.agreeing_area:.0%} of the picture", math.sqrt(m.agreeing_area)),
        ("unlike_area", f"they differ on {m.unlike_area:.0%} of the picture", math.sqrt(m.unlike_area)),
        ("chance", f"{m.chance:.0%} would agree by chance", m.chance),
    ]


def _weigh(measures: Measures, weights: Weights, most: float) -> tuple[Evidence, ...]:
    """Every measure in words with its weight; the last line, if needed, keeps the sum within ``most``."""
    evidence = [
        Evidence(name, words, round(getattr(weights, name) * value, 4)) for name, words, value in terms(measures)
    ]
    total = _sum(evidence)
    if abs(total) > most:
        evidence.append(
            Evidence("bounded", "no more is claimed than was ever tried", math.copysign(most, total) - total)
        )
    return tuple(evidence)


def _same_piece(measures: Measures, variant: Variant, rules: MatchRules) -> tuple[Evidence, ...] | None:
    """Evidence for two scans of one thing: all but the same to the last cell, wear with it."""
    limits = rules.same_piece
    least_coverage = min(measures.coverage_a, measures.coverage_b)
    if variant.polarity_flip or variant.mirror or least_coverage < limits.coverage:
        return None
    if measures.close_share < limits.close_share:
        return None
    words = f"the same to the last detail, wear with it, on {measures.close_share:.0%}; a second copy may look so too"
    return (Evidence("wear", words, limits.weight),)


def _sum(evidence: Iterable[Evidence]) -> float:
    return sum(e.weight for e in evidence)


def _probability(weight: float) -> float:
    return 1 / (1 + math.exp(-weight))


def _match(
    a_key: PartKey,
    a: Features,
    b_key: PartKey,
    b: Features,
    found: Pairing,
    measures: Measures,
    judged: tuple[Relation, tuple[Evidence, ...]],
) -> Match:
    to_a, to_b = frame_to_stored(a.frame_box, a.stored_per_frame), frame_to_stored(b.frame_box, b.stored_per_frame)
    stored: Matrix = to_b @ found.transform @ np.linalg.inv(to_a)
    stored = stored / stored[2, 2]
    box = a.frame_box
    told = tell(stored, (box.left + box.width / 2, box.top + box.height / 2))
    relation, evidence = judged
    return Match(
        a=a_key,
        b=b_key,
        relation=relation,
        probability=round(_probability(_sum(evidence)), 4),
        inliers=measures.places,
        coverage_a=round(measures.coverage_a, 3),
        coverage_b=round(measures.coverage_b, 3),
        polarity_flip=found.variant.polarity_flip,
        mirror=found.variant.mirror,
        rotation=round(told.rotation, 1) % 360,
        scale=round(told.scale, 4),
        transform=tuple(float(f"{value:.9g}") for value in stored.ravel()),
        evidence=evidence,
        points=_points(a, b, found, to_a, to_b),
    )


def _points(
    a: Features, b: Features, found: Pairing, to_a: Matrix, to_b: Matrix
) -> tuple[tuple[float, float, float, float], ...]:
    at_a = apply(to_a, a.points[found.indices[:, 0], :2].astype(np.float64))
    at_b = apply(to_b, b.points[found.indices[:, 1], :2].astype(np.float64))
    both: NDArray[np.float64] = np.unique(np.round(np.hstack([at_a, at_b]), 1), axis=0)
    return tuple((float(xa), float(ya), float(xb), float(yb)) for xa, ya, xb, yb in both)
