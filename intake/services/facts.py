"""What lists are sieved by, worked out of a dossier."""

from collections.abc import Iterable

from intake.model import PartKey
from intake.services.dossiers import Dossier
from intake.store.facts import PieceFact


def facts_of(known: Iterable[Dossier]) -> list[PieceFact]:
    """One row for each part, under its first file. Years and countries are those of marks that may be relied on."""
    made: dict[PartKey, PieceFact] = {}
    for d in known:
        if d.key in made:
            continue
        marks = [m for m in (d.parsed.marks if d.parsed else ()) if m.accepted != "no"]
        first = [m.year_from for m in marks if m.year_from]
        last = [m.year_to for m in marks if m.year_to]
        made[d.key] = PieceFact(
            d.key,
            d.scan.consignment,
            d.scan.box,
            d.piece,
            d.kind,
            d.measured.format if d.measured else "",
            tuple(sorted({m.country for m in marks if m.country})),
            min(first, default=None),
            max(last, default=None),
            d.scan.is_reference,
            d.ruled.done is not None,
        )
    return list(made.values())
