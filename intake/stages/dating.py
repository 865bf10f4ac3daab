"""From the accepted marks of one piece, on all its scans, to when it may have been printed.

Each mark has been in use in one or more stretches of years. The piece is from years that lie in a stretch of every
mark: the latest beginning is its "not before", the earliest end thereafter its "usual until". Marks whose stretches do
not meet are named; the later one then holds, as a later mark on an older design mostly means a later issue.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

from intake.config.dating import Counts, DatingRules
from intake.model import Mark, PartKey

_MOST_CONTRADICTIONS = 12
_RUN_OUT = "sheets of one printing or release were used up about then; a re-issue under the same mark is later"
_IN_USE = "such marks were in use until then; a re-issue may keep one"
CAUTION = "A copy bears every mark of what it was made from: marks that agree never show that a piece is an original."


class MarkAt(NamedTuple):
    """A mark, and the part of which scan bears it."""

    key: PartKey
    mark: Mark


@dataclass(frozen=True, slots=True)
class Bound:
    """One end of a date: the year, the mark that it rests on, and why it counts so.

    ``firm``: certain as far as the mark is read right. ``doubtful``: sources do not agree on the year.
    """

    year: int
    firm: bool
    doubtful: bool
    at: MarkAt
    why: str


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Marks of one piece that cannot all be true of it, or one that speaks against itself; ``words`` say how."""

    marks: tuple[MarkAt, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Dated:
    """What the accepted marks of one piece suggest: not before, usual until. Never that it is an original.

    ``certain`` is the latest firm year where ``not_before`` is a later, softer one. ``edtf`` is an interval of EDTF
    (ISO 8601-2, level 1), empty where no mark dates the piece; ``words`` say the same.
    """

    not_before: Bound | None
    certain: Bound | None
    until: Bound | None
    contradictions: tuple[Contradiction, ...]
    edtf: str
    words: str


class _Span(NamedTuple):
    """Years in which a mark was in use. Where ``last`` is None its end is not known, or ``going``: it has none."""

    first: int | None
    last: int | None
    going: bool

    def meets(self, other: "_Span") -> bool:
        return not self.is_over_by(other.first) and not other.is_over_by(self.first)

    def is_over_by(self, year: int | None) -> bool:
        return self.last is not None and year is not None and self.last < year


class _Speaking(NamedTuple):
    """A mark that dates the piece."""

    at: MarkAt
    counts: Counts
    spans: tuple[_Span, ...]


def date(marks: Iterable[MarkAt], rules: DatingRules, is_overlay: bool = False) -> Dated:
    """Return what the marks of one piece suggest. Marks that nobody accepted count for nothing.

    ``is_overlay``: the piece is a snipe or sticker by itself; the words say that its marks date it alone.
    """
    accepted = _each_once(at for at in marks if at.mark.accepted != "no")
    speaking = [s for at in accepted if (s := _speaking(at, rules)) is not None]
    speaking.sort(key=lambda s: not s.counts.firm)
    lower = _latest_beginning(speaking)
    certain = _latest_beginning([s for s in speaking if s.counts.firm]) if lower and not lower.firm else None
    upper, is_going = _earliest_end(speaking, lower)
    contradictions = _contradictions(accepted, speaking)
    edtf = ""
    if lower or upper:
        edtf = f"{_year(lower)}/{_year(upper) or ('..' if is_going else '')}"
    words = _words(lower, certain, upper, speaking, is_overlay)
    return Dated(lower, certain, upper, tuple(contradictions), edtf, words)


def _each_once(marks: Iterable[MarkAt]) -> list[MarkAt]:
    """A mark that several scans show counts once."""
    once: dict[tuple[str, ...], MarkAt] = {}
    for at in sorted(marks, key=lambda at: (at.key, at.mark.box, at.mark.kind)):
        once.setdefault((at.mark.kind, at.mark.value.casefold(), at.mark.country, at.mark.dates), at)
    return list(once.values())


def _speaking(at: MarkAt, rules: DatingRules) -> _Speaking | None:
    mark, counts = at.mark, rules.counts.get(at.mark.dates)
    if counts is None:
        return None
    if mark.year is None:
        spans = tuple(_Span(first, last, last is None) for first, last in mark.periods)
    else:
        begun = _begun(mark)
        later = counts.usual_years if mark.year >= begun else None
        spans = (_Span(max(mark.year, begun), None if later is None else mark.year + later, False),)
    spans = tuple(s for s in spans if s[:2] != (None, None))
    return _Speaking(at, counts, spans) if spans else None


def _begun(mark: Mark) -> int:
    """The first year in which such marks were in use at all, 0 where that is not known."""
    return mark.periods[0][0] or 0 if mark.periods else 0


def _latest_beginning(speaking: Sequence[_Speaking]) -> Bound | None:
    """A later mark may put a mark of several stretches into a later one of them, which begins later still."""
    found: Bound | None = None
    is_settled = False
    while not is_settled:
        is_settled = True
        for s in speaking:
            year = found.year if found else None
            span = next((span for span in s.spans if not span.is_over_by(year)), None)
            if span is not None and span.first is not None and (year is None or span.first > year):
                found, is_settled = _bound(span.first, s, s.counts.firm, s.counts.words), False
    return found


def _earliest_end(speaking: Sequence[_Speaking], lower: Bound | None) -> tuple[Bound | None, bool]:
    """Return the end, and whether there is none as a mark is in use to this day. Marks that are over say nothing."""
    ends: list[Bound] = []
    is_going = False
    for s in speaking:
        left = [span for span in s.spans if not span.is_over_by(lower.year if lower else None)]
        if left and all(span.last is not None for span in left):
            last = max(span.last for span in left if span.last is not None)
            ends.append(_bound(last, s, False, _IN_USE if s.at.mark.year is None else _RUN_OUT))
        is_going |= any(span.going for span in left)
    return min(ends, key=lambda b: (b.year, b.doubtful), default=None), is_going


def _bound(year: int, s: _Speaking, firm: bool, why: str) -> Bound:
    return Bound(year, firm, year in s.at.mark.doubtful, s.at, why)


def _contradictions(accepted: Sequence[MarkAt], speaking: Sequence[_Speaking]) -> list[Contradiction]:
    found = []
    for at in accepted:
        year, begun = at.mark.year, _begun(at.mark)
        if year is not None and year < begun:
            words = f"{_name(at.mark)} says {year}, but such marks were not in use before {begun}."
            found.append(Contradiction((at,), words))
    bases = {at.mark.value.upper(): at for at in accepted if at.mark.kind == "film_base"}
    if len(bases) > 1:
        words = f"{' and '.join(sorted(bases))} both stand on it: edge print copies through. The base stays unknown."
        found.append(Contradiction(tuple(bases[b] for b in sorted(bases)), words))
    for a, b in combinations(speaking, 2):
        if not any(one.meets(other) for one in a.spans for other in b.spans):
            words = (
                f"{_name(a.at.mark)} was in use {_stretches(a)}, {_name(b.at.mark)} {_stretches(b)}: not in one year. "
                "A re-issue, a later overprint or a wrong reading may explain it."
            )
            found.append(Contradiction((a.at, b.at), words))
            if len(found) >= _MOST_CONTRADICTIONS:
                break
    return found


def _year(bound: Bound | None) -> str:
    """EDTF level 1: ~ approximate, ? uncertain, % both."""
    if bound is None:
        return ""
    soft = not bound.firm
    return f"{bound.year:04d}{'%' if soft and bound.doubtful else '~' if soft else '?' if bound.doubtful else ''}"


def _words(
    lower: Bound | None,
    certain: Bound | None,
    upper: Bound | None,
    speaking: Sequence[_Speaking],
    is_overlay: bool,
) -> str:
    if not lower and not upper:
        several = [f"{_name(s.at.mark)} was in use {_stretches(s)}." for s in speaking]
        return " ".join([*several, CAUTION]) if several else "No accepted mark dates it."
    said = [
        "This is a piece pasted on: its marks date it alone." if is_overlay else "",
        f"Marks suggest {', '.join(_end(*end) for end in (('not before', lower), ('usual until', upper)) if end[1])}.",
        f"Certainly not before {certain.year}, by {_name(certain.at.mark)}." if certain else "",
        *(f"{_name(s.at.mark)} was in use {_stretches(s)}." for s in speaking if len(s.spans) > 1),
        CAUTION,
    ]
    return " ".join(w for w in said if w)


def _end(name: str, bound: Bound | None) -> str:
    assert bound is not None
    about = "" if bound.firm and not bound.doubtful else "about "
    return f"{name} {about}{bound.year} (by {_name(bound.at.mark)}{'; sources differ' if bound.doubtful else ''})"


def _stretches(s: _Speaking) -> str:
    return " or ".join(
        f"{span.first or '?'}–{span.last}" if span.last is not None else f"from {span.first} on" for span in s.spans
    )


def _name(mark: Mark) -> str:
    return f"{mark.kind.replace('_', ' ')} {mark.value}"
