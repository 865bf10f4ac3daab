"""What about a piece speaks against the year that it claims itself, each sign with its innocent explanation.

A piece claims a year by its copyright line or release code. A sign is a place to look at: it never says what a piece
is, and a piece without any is not thereby an original.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from intake.config.clash import ClashRules, Strength
from intake.model import Mark

_CLAIMING = ("a release", "the film", "the film or the art")


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


def claimed_year(marks: Iterable[Mark]) -> int | None:
    """The earliest year that a mark itself names as the film's or the release's; None when none does."""
    years = [m.year for m in marks if m.accepted != "no" and m.year is not None and m.dates in _CLAIMING]
    return min(years, default=None)


def clashes(piece: Looks, rules: ClashRules) -> list[Clash]:
    """The signs on a piece, the plain ones first. Marks on an overlay date the overlay alone and speak against
    nothing."""
    marks = [m for m in piece.marks if m.accepted != "no" and m not in piece.overlay]
    claimed = claimed_year(marks)
    found: list[Clash] = []

    def add(rule: str, strength: Strength | None = None, mark: Mark | None = None, **words: object) -> None:
        row = rules.rules.get(rule)  # type: ignore[call-overload]
        if row is not None:
            found.append(Clash(rule, strength or row.strength, row.words.format(**words), row.innocent, mark))

    if claimed is not None:
        for mark in marks:
            _by_certificate(mark, claimed, rules, add)
            _by_web(mark, claimed, rules, add)
        _by_format(piece.formats, claimed, rules, add)
    if piece.rescreened:
        add("rescreened")
    if piece.printed_folds:
        add("printed_folds")
    if piece.format_fit == "off-size" and piece.formats:
        add("off_size", value=piece.formats[0][0])
    return sorted(found, key=lambda c: c.strength != "plain")


def _by_certificate(mark: Mark, claimed: int, rules: ClashRules, add: _Add) -> None:
    if mark.kind != "certificate" or not mark.periods:
        return
    first = min((f for f, _ in mark.periods if f is not None), default=None)
    last = None if any(t is None for _, t in mark.periods) else max(t for _, t in mark.periods if t is not None)
    if first is not None and first > claimed + rules.grace_years:
        add("certificate", "possible" if first in mark.doubtful else None, mark,
            value=mark.value, from_year=first, claimed=claimed)  # fmt: skip
    elif last is not None and last < claimed:
        add("certificate_over", None, mark, value=mark.value, to_year=last, claimed=claimed)


def _by_web(mark: Mark, claimed: int, rules: ClashRules, add: _Add) -> None:
    row = rules.rules.get("web")
    if mark.kind != "web" or row is None or row.from_year is None or claimed >= row.from_year:
        return
    sure = claimed < row.from_year - row.doubt_years
    add("web", None if sure else "possible", mark, value=mark.value, claimed=claimed)


def _by_format(formats: Sequence[tuple[str, int | None]], claimed: int, rules: ClashRules, add: _Add) -> None:
    """Only where every format that the size fits came later."""
    starts = [start for _, start in formats]
    if not starts or any(start is None for start in starts):
        return
    first = min(start for start in starts if start is not None)
    if first > claimed + rules.grace_years:
        add("format", None, None, value=" or ".join(name for name, _ in formats), from_year=first, claimed=claimed)
