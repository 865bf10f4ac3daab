"""What pieces and families are to each other: as people stated and ruled, else as matches and campaigns suggest."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from intake.config.load import Config
from intake.kin import Decision, Family, Match, Verb
from intake.model import PartKey
from intake.services.clearing import PieceName
from intake.services.dossiers import Dossier
from intake.services.handover.record import PROGRAM, OtherDesign, RelationRecord, Source, share
from intake.services.handover.statements import by, first_of
from intake.services.known import Known
from intake.services.rulings import rulings, sides, standing
from intake.store.relations import Statement

_APART: tuple[Verb, ...] = ("part_off", "divide", "same_campaign")


class Relating:
    """Relations of pieces that may be shown. ``of`` are the parts of each piece, ``names`` the pieces of each part."""

    def __init__(
        self,
        config: Config,
        known: Known,
        decisions: Sequence[Decision],
        of: Mapping[PieceName, Sequence[Dossier]],
        names: Mapping[PartKey, Sequence[PieceName]],
        may_show: Callable[[PieceName], bool],
    ) -> None:
        self._rules, self._known, self._of, self._names, self._may_show = config.records, known, of, names, may_show
        self._family = {m.key: f for f in known.families for m in f.members}
        self._is_apart = rulings(decisions).apart
        self._apart = [d for d in standing(decisions) if d.verb in _APART]

    def pieces(
        self, stated: Iterable[Statement], confirmed: Callable[[Family], Source | None]
    ) -> dict[PieceName, list[RelationRecord]]:
        """What each piece is to others. ``confirmed`` tells by whom a family was, if it was."""
        made: dict[PieceName, dict[tuple[str, PieceName], RelationRecord]] = {}

        def add(name: PieceName, record: RelationRecord, sort: str) -> None:
            if self._may_show(record.other) and name != record.other:
                made.setdefault(name, {}).setdefault((sort, record.other), record)

        for s in stated:
            one, other = (s.consignment, *s.piece), (s.consignment, *s.other)
            number = f"number {s.number_of[0]} of {s.number_of[1]}" if s.number_of[0] else "stated at the desk"
            source = Source(s.who, s.at, number)
            word, back = self._rules.stated[s.relation]
            add(one, RelationRecord(word, other, "confirmed", source), s.relation)
            add(other, RelationRecord(back, one, "confirmed", source), s.relation)
        for m in sorted(self._known.matches, key=lambda m: (-m.probability, m.a, m.b)):
            for a in self._names.get(m.a, ()):
                for b in self._names.get(m.b, ()):
                    word, back = self._word(m, a, b)
                    certainty, source = self._certainty(m, confirmed, word != back)
                    add(a, RelationRecord(word, b, certainty, source), m.relation)
                    add(b, RelationRecord(back, a, certainty, source), m.relation)
        return {name: list(records.values()) for name, records in made.items()}

    def designs(self, family: Family, visible: Iterable[Family]) -> Iterable[OtherDesign]:
        """Families of the campaign of this one, of those that may be shown."""
        campaign = self._known.campaigns.get(family.code)
        here = {m.key for m in family.members}
        for other in visible:
            if campaign and other.code != family.code and self._known.campaigns.get(other.code) == campaign:
                there = {m.key for m in other.members}
                ruled = [d for d in self._apart if d.verb == "same_campaign" and _sets_against(d, here, there)]
                if ruled:
                    yield OtherDesign(other.code, "confirmed", by(ruled[-1]))
                else:
                    yield OtherDesign(other.code, "possible", Source(PROGRAM, on=f"campaign {campaign}"))

    def _word(self, m: Match, a: PieceName, b: PieceName) -> tuple[str, str]:
        """What the first is to the second, and back: of one design, by what the two pieces are."""
        if m.relation != "same_design":
            return self._rules.stated[m.relation]
        word, back, swapped = self._rules.words(first_of(self._of[a]).kind, first_of(self._of[b]).kind)
        return (back, word) if swapped else (word, back)

    def _certainty(self, m: Match, confirmed: Callable[[Family], Source | None], directed: bool) -> tuple[str, Source]:
        """How sure it is, and on whose word. A person confirms that pieces are of one design, not which came first."""
        if (m.a, m.b) in self._is_apart:
            ruled = [d for d in self._apart if _sets_against(d, {m.a}, {m.b})]
            return "rejected", by(ruled[-1]) if ruled else Source("a person")
        on = f"a match at {share(m.probability)} of {m.inliers} points"
        family = self._family.get(m.a)
        by_person = None
        if m.relation == "same_design" and family and family is self._family.get(m.b):
            by_person = confirmed(family)
        if by_person and not directed:
            return "confirmed", replace(by_person, on=f"{by_person.on}; {on}")
        if by_person:
            on = f"of one design: {by_person.who}, {by_person.on}; which is which: by their kinds, suggested; {on}"
        likely = by_person is not None or m.probability >= self._rules.likely_from
        return "likely" if likely else "possible", Source(PROGRAM, on=on)


def _sets_against(d: Decision, here: set[PartKey], there: set[PartKey]) -> bool:
    """Does a ruling set some of the ones against some of the others, either way round?"""
    first, rest = map(set, sides(d))
    return bool((first & here and rest & there) or (first & there and rest & here))
