"""The table of worn places and grades."""

from collections.abc import Iterable
from typing import Any

from intake.kin import Decision
from intake.services.condition import examined_of
from intake.services.dossiers import Dossier

Row = tuple[Any, ...]


def condition_rows(parts: Iterable[Dossier]) -> Iterable[Row]:
    """Worn places as they stand, rejected ones too, then the grades, the newest first."""
    for d in parts:
        place = (d.scan.consignment, d.scan.box, d.piece, d.scan.path, d.key.part)
        for p in d.worn.places:
            yield (*place, p.sort, p.state, p.certainty, *p.box, "", "", p.words, *_examined(p.by))
        for g in d.worn.grades:
            said = (str(g.shown.get(name, "")) for name in ("grade", "scale", "words"))
            yield (*place, "", "graded", *[None] * 5, *said, *_examined(g))


def _examined(by: Decision | None) -> Row:
    if by is None:
        return ("", "", None, None, "")
    how = examined_of(by)
    return (by.made_at, by.who, how.unframed, how.both_sides, how.light)
