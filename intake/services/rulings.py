"""What the decisions still say, once those that were undone are left out."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from itertools import combinations, product

from intake.kin import Decision, Verb
from intake.model import PartKey

Pair = tuple[PartKey, PartKey]

# What belongs together; each of these may rest on the one before it on the same pieces.
GROUPING: tuple[Verb, ...] = ("confirm", "part_off", "divide", "join", "same_campaign")
# All that families, and their place in the queue, follow from.
FAMILY_VERBS: tuple[Verb, ...] = (*GROUPING, "name_design", "log_search")


@dataclass(frozen=True, slots=True)
class Search:
    """A source outside that was searched for a finished sheet of a design: of which parts, where, and if one was found
    there, by whom and when."""

    number: int
    parts: frozenset[PartKey]
    where: str
    found: bool
    words: str
    who: str
    at: str

    def is_of(self, members: Collection[PartKey]) -> bool:
        """Was it for what is mostly this family?"""
        return 2 * len(self.parts & set(members)) > len(self.parts)


@dataclass(frozen=True, slots=True)
class Rulings:
    """Hard constraints for grouping, and the sets of parts that a person confirmed as one design.

    A later ruling on a pair stands over an earlier one. ``names`` are what designs were called, and of which parts, and
    ``campaigns`` two designs that were said to be of one campaign, each the oldest first.
    ``confirmed_at`` says when each of ``confirmed`` was.
    """

    together: frozenset[Pair]
    apart: frozenset[Pair]
    confirmed: tuple[frozenset[PartKey], ...]
    names: tuple[tuple[frozenset[PartKey], str], ...] = ()
    campaigns: tuple[tuple[frozenset[PartKey], frozenset[PartKey], str], ...] = ()
    searches: tuple[Search, ...] = ()
    confirmed_at: tuple[str, ...] = ()

    def name_of(self, members: Collection[PartKey]) -> str:
        """What a person called the design: the newest name of which more than half of the pieces are among these."""
        inside = set(members)
        return next((text for parts, text in reversed(self.names) if 2 * len(parts & inside) > len(parts)), "")


def sides(decision: Decision) -> tuple[tuple[PartKey, ...], tuple[PartKey, ...]]:
    """The parts that a ruling sets against the others: the ``shown["first"]`` that it names first (one, if unsaid)."""
    first = decision.shown.get("first", 1)
    many = first if isinstance(first, int) and 0 < first <= len(decision.parts) else 1
    return decision.parts[:many], decision.parts[many:]


def standing(decisions: Iterable[Decision]) -> list[Decision]:
    """Decisions in force: not undone, and not themselves an undoing. An undoing that was undone counts for nothing."""
    made = list(decisions)
    undone: set[int] = set()
    for decision in reversed(made):
        if decision.undoes is not None and decision.id not in undone:
            undone.add(decision.undoes)
    return [d for d in made if d.id not in undone and d.verb != "undo"]


def rulings(decisions: Iterable[Decision]) -> Rulings:
    """The constraints. ``part_off``, ``divide`` and ``same_campaign`` set the parts named first against the others.

    Of parts that were parted off nothing is said among themselves; those that were divided off stay together.
    """
    verdict: dict[Pair, bool] = {}
    confirmed: list[frozenset[PartKey]] = []
    confirmed_at: list[str] = []
    names: list[tuple[frozenset[PartKey], str]] = []
    searches: list[Search] = []
    campaigns: list[tuple[frozenset[PartKey], frozenset[PartKey], str]] = []
    for decision in standing(decisions):
        first, rest = sides(decision)
        if decision.verb in ("confirm", "join"):
            verdict.update({_pair(a, b): True for a, b in combinations(decision.parts, 2)})
        if decision.verb == "confirm":
            confirmed.append(frozenset(decision.parts))
            confirmed_at.append(decision.made_at)
        if decision.verb == "divide":
            verdict.update({_pair(a, b): True for a, b in combinations(first, 2)})
        if decision.verb in ("part_off", "divide", "same_campaign"):
            verdict.update({_pair(a, b): False for a, b in product(first, rest)})
        if decision.verb == "same_campaign":
            campaigns.append((frozenset(first), frozenset(rest), decision.who))
        if decision.verb == "log_search":
            s, d = decision.shown, decision
            found, words = s.get("found") == "found", str(s.get("text", ""))
            searches.append(Search(d.id, frozenset(d.parts), str(s.get("where", "")), found, words, d.who, d.made_at))
        if decision.verb == "name_design":
            names.append((frozenset(decision.parts), str(decision.shown.get("text", ""))))
    return Rulings(
        frozenset(p for p, together in verdict.items() if together),
        frozenset(p for p, together in verdict.items() if not together),
        tuple(confirmed),
        tuple(names),
        tuple(campaigns),
        tuple(searches),
        tuple(confirmed_at),
    )


def _pair(a: PartKey, b: PartKey) -> Pair:
    return (a, b) if a <= b else (b, a)
