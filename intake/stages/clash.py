"""What about a piece speaks against the year that it claims itself, each sign with its innocent explanation.

A piece claims a year by its copyright line or release code. A sign is a place to look at: it never says what a piece
is, and a piece without any is not thereby an original.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from intake.config.clash import ClashRules, Strength
from intake.model import Mark

_OF_FILM = ("the film", "the film or the art")


@dataclass(frozen=True, slots=True)
class Looks:
    """What is known of one piece: its accepted marks, the formats that its size fits, how it was printed and folded.

    ``formats`` are (name, year from which it is usual or None); ``overlay`` marks are those on something pasted on.
    """

    marks: tuple[Mark, ...]
    formats: tuple[tuple[str, int | None], ...] = ()
    format_fit: str = ""
    rescreened: bool = False
    printed_folds: bool = False
    overlay: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Clash:
    """One sign: which rule, how strong, what it says, what may explain it innocently, and the mark it rests on."""

    rule: str
    strength: Strength
    words: str
    innocent: str
    mark: Mark | None = None


class _Add(Protocol):
    def __call__(
        self, rule: str, strength: Strength | None = None, mark: Mark | None = None, **words: object
    ) -> None: ...


@dataclass(frozen=True, slots=True)
class Claim:
    """The year that a piece claims, and how many years later it may still have been printed without a sign: none after
    a release's own year, some after a film's."""

    year: int
    grace: int


def claim_of(marks: Iterable[Mark], rules: ClashRules) -> Claim | None:
    """The earliest year that a mark itself names as the release's, else as the film's; None when none does."""
    named = [(m.year, m.dates) for m in marks if m.accepted != "no" and m.year is not None]
    releases = [year for year, dates in named if dates == "a release"]
    films = [year for year, dates in named if dates in _OF_FILM]
    if releases:
        return Claim(min(releases), 0)
    return Claim(min(films), rules.grace_years) if films else None


def clashes(piece: Looks, rules: ClashRules) -> list[Clash]:
    """The signs on a piece, the plain ones first. Marks on an overlay date the overlay alone and speak against
    nothing."""
    marks = [m for m in piece.marks if m.accepted != "no" and m not in piece.overlay]
    claim = claim_of(marks, rules)
    found: list[Clash] = []

    def add(rule: str, strength: Strength | None = None, mark: Mark | None = None, **words: object) -> None:
        row = rules.rules.get(rule)  # type: ignore[call-overload]
        if row is not None:
            found.append(Clash(rule, strength or row.strength, row.words.format(**words), row.innocent, mark))

    if claim is not None:
        for mark in marks:
            _by_certificate(mark, claim, add)
            _by_union(mark, claim, add)
            _by_web(mark, claim.year, rules, add)
        _by_format(piece.formats, claim, add)
    if piece.rescreened:
        add("rescreened")
    if piece.printed_folds:
        add("printed_folds")
    if piece.format_fit == "off-size" and piece.formats:
        add("off_size", value=piece.formats[0][0])
    return sorted(found, key=lambda c: c.strength != "plain")


def _by_certificate(mark: Mark, claim: Claim, add: _Add) -> None:
    """A year between two stretches of use is later than the one and earlier than the other: both may explain it."""
    claimed = claim.year
    if mark.kind != "certificate" or not mark.periods:
        return
    if claimed in mark.doubtful and not claim.grace:
        add("certificate_doubtful", None, mark, value=mark.value, claimed=claimed)
        return
    if any((f is None or f <= claimed + claim.grace) and (t is None or claimed <= t) for f, t in mark.periods):
        return
    later = min((f for f, _ in mark.periods if f is not None and f > claimed), default=None)
    ended = max((t for _, t in mark.periods if t is not None and t < claimed), default=None)
    if later is not None and ended is not None:
        add("certificate_between", None, mark, value=mark.value, to_year=ended, from_year=later, claimed=claimed)
    elif later is not None:
        add("certificate", None, mark, value=mark.value, from_year=later, claimed=claimed)
    elif ended is not None:
        add("certificate_over", None, mark, value=mark.value, to_year=ended, claimed=claimed)


def _by_union(mark: Mark, claim: Claim, add: _Add) -> None:
    """A printers' union had its name from one year on; a label without a name has no years and says nothing."""
    first = min((f for f, _ in mark.periods if f is not None), default=None)
    if mark.kind == "union_name" and first is not None and first > claim.year + claim.grace:
        doubtful = first in mark.doubtful and first <= claim.year + claim.grace + 1
        add("union_name", "possible" if doubtful else None, mark, value=mark.value, from_year=first, claimed=claim.year)


def _by_web(mark: Mark, claimed: int, rules: ClashRules, add: _Add) -> None:
    row = rules.rules.get("web")
    if mark.kind != "web" or row is None or row.from_year is None or claimed >= row.from_year:
        return
    sure = claimed < row.from_year - row.doubt_years
    add("web", None if sure else "possible", mark, value=mark.value, claimed=claimed)


def _by_format(formats: Sequence[tuple[str, int | None]], claim: Claim, add: _Add) -> None:
    """Only where every format that the size fits came later."""
    starts = [start for _, start in formats]
    if not starts or any(start is None for start in starts):
        return
    first = min(start for start in starts if start is not None)
    if first > claim.year + claim.grace:
        add("format", None, None, value=" or ".join(name for name, _ in formats), from_year=first, claimed=claim.year)
