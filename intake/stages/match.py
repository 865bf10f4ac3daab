"""Verify one candidate pair: the geometry, the agreement, and the evidence that adds up to a probability."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from intake.config.match import MatchRules, Weights
from intake.imaging.agreement import Agreement, agree
from intake.imaging.features import Features
from intake.imaging.geometry import Matrix, apply, frame_to_stored, tell
from intake.imaging.pairing import Pairing, pair
from intake.imaging.permute import VARIANTS, Variant
from intake.model import Evidence, Match, PartKey, Relation

VERSION = 2


@dataclass(frozen=True, slots=True)
class Measures:
    """What was measured of a pair. Shares run from 0 to 1; areas are shares of the picture that is covered more."""

    places: int
    agreement: float
    contrary: float
    agreeing_area: float
    unlike_area: float
    close_share: float
    coverage_a: float
    coverage_b: float
    stretch: float
    residual_px: float

    @property
    def drawn(self) -> float:
        """How much of what both show is drawn on at all: little on a stamped back, most of a painting."""
        covered = max(self.coverage_a, self.coverage_b, 0.01)
        return min(1.0, (self.agreeing_area + self.unlike_area) / covered)


def verify(
    a_key: PartKey, a: Features, b_key: PartKey, b: Features, hints: Iterable[Variant], rules: MatchRules
) -> Match | None:
    """The match of two parts, or None when nothing worth showing joins them.

    ``hints`` are the variants that the index proposed; without any, all four are tried. The order of the parts does not
    matter. The probability comes from weights fitted on generated pairs (config/match.toml says which).
    """
    if b_key < a_key:
        a_key, a, b_key, b = b_key, b, a_key, a
    wanted = set(hints) or set(VARIANTS)
    found = [pair(a, b, variant, rules.pairing) for variant in VARIANTS if variant in wanted]
    best = max((f for f in found if f), key=lambda f: (len(f.indices), -f.residual_px), default=None)
    if best is None or len(best.indices) < rules.least_places:
        return None
    agreement = agree(a, b, best.transform, polarity_flip=best.variant.polarity_flip)
    measures = measure_pair(a, best, agreement, rules)
    alike_kinds = a.kind == b.kind != "unknown"
    judged = judge(measures, best.variant, rules, alike_kinds=alike_kinds)
    return None if judged is None else _match(a_key, a, b_key, b, best, measures, judged)


def measure_pair(a: Features, pairing: Pairing, agreement: Agreement, rules: MatchRules) -> Measures:
    """The figures that the judgement rests on."""
    textured = ~np.isnan(agreement.alike)
    cells = int(textured.sum())
    alike = np.nan_to_num(agreement.alike, nan=-1.0)
    agreeing = int((alike > rules.agreeing_correlation).sum())
    contrary = int((np.nan_to_num(agreement.contrary, nan=-1.0) > rules.agreeing_correlation).sum())
    area = max(agreement.cell_a, agreement.cell_b)
    told = tell(pairing.transform, (a.width / 2, a.height / 2))
    return Measures(
        places=len(pairing.indices),
        agreement=agreeing / max(cells, 1),
        contrary=contrary / max(cells, 1),
        agreeing_area=min(1.0, agreeing * area),
        unlike_area=min(1.0, (cells - agreeing) * area),
        close_share=int((alike > rules.same_piece.close_correlation).sum()) / max(cells, 1),
        coverage_a=agreement.overlap_a,
        coverage_b=agreement.overlap_b,
        stretch=told.stretch,
        residual_px=pairing.residual_px,
    )


def judge(
    measures: Measures, variant: Variant, rules: MatchRules, *, alike_kinds: bool
) -> tuple[Relation, tuple[Evidence, ...]] | None:
    """The relation that the evidence speaks for, or None when none reaches ``rules.least_probability``.

    Two scans are of one piece only where both were taken for one kind of thing; a shared element is offered only where
    the design is not the same.
    """
    same = _weigh(measures, rules.same_design, rules.most_weight)
    if _sum(same) >= 0:
        piece = _same_piece(measures, variant, rules) if alike_kinds else None
        return ("same_piece", piece) if piece else ("same_design", same)
    shared = _weigh(measures, rules.shared_element, rules.most_weight)
    if _probability(max(_sum(same), _sum(shared))) < rules.least_probability:
        return None
    return ("same_design", same) if _sum(same) >= _sum(shared) else ("shared_element", shared)


def _weigh(measures: Measures, weights: Weights, most: float) -> tuple[Evidence, ...]:
    """Every measure in words with its weight; the last line, if needed, keeps the sum within ``most``."""
    m = measures
    evidence = [
        Evidence("prior", "before looking", weights.prior),
        Evidence("places", f"{m.places} places found on both", weights.places * math.log1p(m.places)),
        Evidence("chance", f"{m.contrary:.0%} would agree by chance", weights.contrary * m.contrary),
        Evidence(
            "agreement",
            f"light and dark agree on {m.agreement:.0%} of the drawn ground that both show",
            weights.agreement * m.agreement,
        ),
        Evidence(
            "agreeing_area",
            f"what agrees covers {m.agreeing_area:.0%} of the picture",
            weights.agreeing_area * math.sqrt(m.agreeing_area),
        ),
        Evidence(
            "unlike_area",
            f"what differs covers {m.unlike_area:.0%} of the picture",
            weights.unlike_area * math.sqrt(m.unlike_area),
        ),
        Evidence(
            "coverage",
            f"each shows {m.coverage_a:.0%} and {m.coverage_b:.0%} of itself in the other",
            weights.coverage * min(m.coverage_a, m.coverage_b),
        ),
        Evidence(
            "closely",
            f"on {m.close_share:.0%} of it to the last stroke",
            weights.closely * math.sqrt(m.close_share),
        ),
        Evidence("drawn", f"{m.drawn:.0%} of what both show is drawn on", weights.drawn * m.drawn),
        Evidence("stretch", f"shapes stretched by {m.stretch - 1:.0%}", weights.stretch * math.log(m.stretch)),
    ]
    evidence = [replace(e, weight=round(e.weight, 4)) for e in evidence]
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
