"""What the decisions still say, once those that were undone are left out."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from intake.kin import Decision
from intake.model import PartKey

Pair = tuple[PartKey, PartKey]


@dataclass(frozen=True, slots=True)
class Rulings:
    """Hard constraints for grouping, and the sets of parts that a person confirmed as one design.

    A later ruling on a pair stands over an earlier one.
    """

    together: frozenset[Pair]
    apart: frozenset[Pair]
    confirmed: tuple[frozenset[PartKey], ...]


def standing(decisions: Iterable[Decision]) -> list[Decision]:
    """Decisions in force: not undone, and not themselves an undoing. An undoing that was undone counts for nothing."""
    made = list(decisions)
    undone: set[int] = set()
    for decision in reversed(made):
        if decision.undoes is not None and decision.id not in undone:
            undone.add(decision.undoes)
    return [d for d in made if d.id not in undone and d.verb != "undo"]


def rulings(decisions: Iterable[Decision]) -> Rulings:
    """The constraints. ``part_off`` names the part taken out first, then the parts that it was taken from."""
    verdict: dict[Pair, bool] = {}
    confirmed: list[frozenset[PartKey]] = []
    for decision in standing(decisions):
        if decision.verb in ("confirm", "join"):
            verdict.update({_pair(a, b): True for a, b in combinations(decision.parts, 2)})
        if decision.verb == "confirm":
            confirmed.append(frozenset(decision.parts))
        if decision.verb == "part_off":
            out, *rest = decision.parts
            verdict.update({_pair(out, other): False for other in rest})
    return Rulings(
        frozenset(p for p, together in verdict.items() if together),
        frozenset(p for p, together in verdict.items() if not together),
        tuple(confirmed),
    )


def _pair(a: PartKey, b: PartKey) -> Pair:
    return (a, b) if a <= b else (b, a)
