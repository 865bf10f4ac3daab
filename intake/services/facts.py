"""What lists are sieved by, worked out of a dossier."""

import json
from collections.abc import Iterable, Mapping

from intake.kin import Family
from intake.model import PartKey
from intake.services.dossiers import Dossier
from intake.services.shown import untitled
from intake.store.facts import FamilyFact, PieceFact


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


def family_facts(families: Iterable[Family], known: Mapping[PartKey, PieceFact]) -> list[FamilyFact]:
    """One row for each family, from those of its pieces."""
    made = []
    for f in families:
        pieces = [known[m.key] for m in f.members if m.key in known]
        sets = {
            "consignments": sorted({p.consignment for p in pieces}),
            "boxes": sorted({f"{p.consignment} / {p.box}" for p in pieces}),
            "kinds": sorted({p.kind for p in pieces}),
            "formats": sorted({p.format for p in pieces if p.format}),
            "countries": sorted({c for p in pieces for c in p.countries}),
            "years": sorted({(p.year_from or 0, p.year_to or 9999) for p in pieces if p.year_from or p.year_to}),
        }
        name = f.title or untitled([f"{p.box} / {p.piece}" for p in pieces])
        made.append(FamilyFact(f.code, name, json.dumps(sets, ensure_ascii=False)))
    return made
