"""Verify one candidate pair: the geometry, the agreement, and the evidence that adds up to a probability."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.match import MatchRules, Table, Weights
from intake.imaging.agreement import Agreement, agree
from intake.imaging.features import Features
from intake.imaging.geometry import Matrix, apply, frame_to_stored, tell
from intake.imaging.pairing import Pairing, pair
from intake.imaging.permute import VARIANTS, Variant
from intake.kin import Match, Relation
from intake.model import Evidence, PartKey

VERSION = 7

_CELLS_A_FIELD = 4


@dataclass(frozen=True, slots=True)
class Measures:
    """What was measured of a pair. Shares run from 0 to 1; areas are shares of the picture that is covered more.

    ``spread`` is the share of the picture that the places found span, on the one where it is more. ``edges_area`` is
    where edges run the same way, whichever side is the lighter; ``chance`` how far light and dark would agree the other
    way round (a correlation); ``seen_area`` where there is something to compare.
    """

    places: int
    asked: int
    likeness: float
    rival: int
    moved: int
    spread: float
    edges_area: float
    chance: float
    seen_area: float
    coverage_a: float
    coverage_b: float


Term = tuple[str, str, float]
Closer = Callable[[], tuple[Features, Features] | None]


def verify(
    a_key: PartKey,
    a: Features,
    b_key: PartKey,
    b: Features,
    hints: Iterable[Variant],
    rules: MatchRules,
    closer: Closer | None = None,
) -> Match | None:
    """The match of two parts, or None when nothing worth showing joins them.

    ``hints`` are the variants that the index proposed; without any, all four are tried. ``closer`` gives the features
    of a and b once more, with more keypoints of a larger picture: asked where the first look leaves the pair undecided.
    The order of the parts does not matter. The probability comes from tables fitted on generated pairs
    (config/match.toml says which).
    """
    swapped = b_key < a_key
    if swapped:
        a_key, a, b_key, b = b_key, b, a_key, a
    measured = measure(a, b, hints, rules)
    if measured is None:
        return None
    is_element = (a.kind in rules.element_kinds) != (b.kind in rules.element_kinds)
    same = _weigh(measured[2], rules.same_design, rules.most_weight)
    if closer is not None and not is_element and rules.second.is_asked(_probability(_sum(same))):
        again = closer()
        if again is not None:
            again = again[::-1] if swapped else again
            near = measure(*again, [measured[0].variant], rules)
            told = _second(_sum(same), near, rules)
            same = (*same, told)
            if near is not None and told.weight > 0:
                (a, b), measured = again, near
    judged = judge(measured[2], same, rules, is_element=is_element)
    return None if judged is None else _match(a_key, a, b_key, b, *measured, judged)


def log_odds(measures: Measures | None, rules: MatchRules) -> float:
    """What the tables of same_design say of one look; ``rules.second.nothing`` of one that found no geometry."""
    return rules.second.nothing if measures is None else _sum(_weigh(measures, rules.same_design, rules.most_weight))


def _second(first: float, near: tuple[Pairing, Agreement, Measures] | None, rules: MatchRules) -> Evidence:
    """What a closer look adds to the sum of the first."""
    second = rules.second
    whole = second.prior + second.first * first + second.closer * log_odds(near and near[2], rules)
    found = "nothing lies on the other as a whole" if near is None else f"{near[2].places} places found on both"
    words = f"looked at again on a larger picture: {found}"
    return Evidence("closer", words, round(float(np.clip(whole, -rules.most_weight, rules.most_weight)) - first, 4))


def measure(
    a: Features, b: Features, hints: Iterable[Variant], rules: MatchRules
) -> tuple[Pairing, Agreement, Measures] | None:
    """The best geometry among ``hints`` (all four variants when there are none) and what it shows; None without any."""
    wanted = set(hints) or set(VARIANTS)
    found = [pair(a, b, variant, rules.pairing) for variant in VARIANTS if variant in wanted]
    best = max((f for f in found if f), key=lambda f: (len(f.indices), -f.residual_px), default=None)
    if best is None or len(best.indices) < rules.least_places:
        return None
    agreement = agree(a, b, best.transform, polarity_flip=best.variant.polarity_flip)
    return best, agreement, _measures(a, b, best, agreement, rules)


def _measures(a: Features, b: Features, pairing: Pairing, agreement: Agreement, rules: MatchRules) -> Measures:
    told = ~np.isnan(agreement.alike)
    cells, area = int(told.sum()), max(agreement.cell_a, agreement.cell_b)
    contrary = agreement.contrary[told]
    return Measures(
        places=len(pairing.indices),
        asked=max(pairing.asked, len(pairing.indices)),
        likeness=pairing.likeness,
        rival=pairing.rival,
        moved=sum(len(e.indices) for e in pairing.elements),
        spread=min(1.0, max(_spanned(a, pairing.indices[:, 0]), _spanned(b, pairing.indices[:, 1]))),
        edges_area=min(1.0, float((agreement.edges[told] > rules.agreeing_correlation).sum()) * area),
        chance=float(contrary.mean()) if cells else 0.0,
        seen_area=min(1.0, cells * area),
        coverage_a=agreement.overlap_a,
        coverage_b=agreement.overlap_b,
    )


def _spanned(features: Features, chosen: NDArray[np.intp]) -> float:
    """The share of the picture within the hull of the chosen keypoints."""
    hull = cv2.convexHull(features.points[chosen, :2].astype(np.float32))
    return float(cv2.contourArea(hull)) / (features.width * features.height)


def judge(
    measures: Measures, same: tuple[Evidence, ...], rules: MatchRules, *, is_element: bool
) -> tuple[Relation, tuple[Evidence, ...]] | None:
    """The relation that the evidence speaks for, or None when none reaches ``rules.least_probability``.

    ``same`` is what speaks for one design.

    A shared element is offered only where the design is not the same, or where one of the two is an element alone.
    Whether two scans are of one piece is asked afterwards, of their pictures (stages/twice.py).
    """
    if is_element:
        seen = max(same, _weigh(measures, rules.shared_element, rules.most_weight), key=_sum)
        words = "one of the two is an element alone, as lettering is: in the other, but not its design"
        told = (*seen, Evidence("element", words, 0.0))
        return ("shared_element", told) if _probability(_sum(seen)) >= rules.least_probability else None
    if _sum(same) >= 0:
        return "same_design", same
    shared = _weigh(measures, rules.shared_element, rules.most_weight)
    if _probability(max(_sum(same), _sum(shared))) < rules.least_probability:
        return None
    return ("same_design", same) if _sum(same) >= _sum(shared) else ("shared_element", shared)


def terms(m: Measures) -> list[Term]:
    """Every measure as (name of its table, words for people, value to look up)."""
    share, within = m.places / m.asked, max(m.coverage_a, m.coverage_b)
    return [
        ("share", f"{m.places} places found on both, {share:.0%} of those that had a say", share),
        ("likeness", f"place for place {m.likeness:.0%} alike", m.likeness),
        ("rival", f"{m.rival} places speak for another overlay", math.log1p(m.rival)),
        ("moved", f"{m.moved} more agree where an element was moved or scaled", math.log1p(m.moved)),
        ("spread", f"the places found span {m.spread:.0%} of the picture", math.sqrt(m.spread)),
        ("edges", f"edges run alike on {m.edges_area:.0%} of the picture", math.sqrt(m.edges_area)),
        ("chance", f"with light and dark exchanged they would agree by {max(m.chance, 0):.0%}", m.chance),
        ("seen", f"{m.seen_area:.0%} of the picture has something to compare", m.seen_area),
        ("within", f"{within:.0%} of one lies in the other", within),
    ]


def _says(weights: Weights, name: str, _: str, value: float) -> float:
    table: Table = getattr(weights, name)
    return float(np.interp(value, table.at, table.says))


def _weigh(measures: Measures, weights: Weights, most: float) -> tuple[Evidence, ...]:
    """Every measure in words with what it says; the last line, if needed, keeps the sum within ``most``."""
    evidence = [Evidence("prior", "before looking", weights.prior)]
    evidence += [Evidence(term[0], term[1], round(_says(weights, *term), 4)) for term in terms(measures)]
    total = _sum(evidence)
    if abs(total) > most:
        evidence.append(
            Evidence("bounded", "no more is claimed than was ever tried", math.copysign(most, total) - total)
        )
    return tuple(evidence)


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
    agreement: Agreement,
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
        agreement=_fields(agreement, to_a),
    )


def _points(
    a: Features, b: Features, found: Pairing, to_a: Matrix, to_b: Matrix
) -> tuple[tuple[float, float, float, float], ...]:
    at_a = apply(to_a, a.points[found.indices[:, 0], :2].astype(np.float64))
    at_b = apply(to_b, b.points[found.indices[:, 1], :2].astype(np.float64))
    both: NDArray[np.float64] = np.unique(np.round(np.hstack([at_a, at_b]), 1), axis=0)
    return tuple((float(xa), float(ya), float(xb), float(yb)) for xa, ya, xb, yb in both)


def _fields(agreement: Agreement, to_a: Matrix) -> tuple[tuple[float, float, float], ...]:
    """How far edges run alike in fields of several cells each, those with little to compare left out."""
    made = []
    rows, columns = agreement.edges.shape
    for top in range(0, rows, _CELLS_A_FIELD):
        for left in range(0, columns, _CELLS_A_FIELD):
            block = np.s_[top : top + _CELLS_A_FIELD, left : left + _CELLS_A_FIELD]
            told = ~np.isnan(agreement.edges[block])
            if told.sum() >= told.size / 4:
                centre = agreement.centres[block].reshape(-1, 2).mean(axis=0, keepdims=True)
                x, y = apply(to_a, centre)[0]
                alike = float(np.clip(agreement.edges[block][told].mean(), 0, 1))
                made.append((round(float(x), 1), round(float(y), 1), round(alike, 2)))
    return tuple(made)
