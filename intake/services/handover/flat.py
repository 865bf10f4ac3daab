"""Records as rows: our field names, which config/records.toml gives the columns of another system."""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import Any

from intake.config.records import RecordRules, TableName
from intake.services.clearing import PieceName
from intake.services.handover.record import FamilyRecord, PieceRecord, Records, Source

Fields = Mapping[str, Any]


def tables(records: Records, rules: RecordRules) -> dict[TableName, tuple[tuple[str, ...], list[tuple[Any, ...]]]]:
    """Table -> (its columns, its rows), in the columns that config/records.toml asks for.

    Raises KeyError for a field that there is not: config/ is tried against ``FIELDS`` when it loads.
    """
    made = {}
    for name, columns in rules.columns.items():
        rows = [tuple(fields[field] for field in columns.values()) for fields in _ROWS[name](records, rules)]
        made[name] = (tuple(columns), rows)
    return made


def identifier(name: PieceName) -> str:
    """Consignment, box and piece, as the house numbers them."""
    return "/".join(name)


def said(source: Source) -> str:
    """A source in one line."""
    return ", ".join(x for x in (source.who, source.at[:10], source.on) if x)


def day(text: str) -> datetime | None:
    """An instant of the ledger as a date that a spreadsheet knows; None where there is none."""
    return datetime.fromisoformat(text).replace(tzinfo=None) if text else None


def _pieces(records: Records, rules: RecordRules) -> Iterable[Fields]:
    for p in records.pieces:
        mm = {m.what.split()[0]: m.value_mm for m in p.measurements}
        yield {
            "identifier": p.identifier,
            "consignment": p.name[0],
            "box": p.name[1],
            "piece": p.name[2],
            "kind": p.kind.words,
            "kind_certainty": f"{p.kind.certainty}, {p.kind.source.on}",
            "title": p.title.words if p.title else "",
            "title_certainty": p.title.certainty if p.title else "",
            "description": p.description.words if p.description else "",
            "makers": "; ".join(f"{rules.makers[m.kind]}: {m.value}" for m in p.marks if m.kind in rules.makers),
            "country": "; ".join(sorted({m.country for m in p.marks if m.country})),
            "date": p.date.words if p.date else "",
            "date_edtf": p.date.edtf if p.date else "",
            "date_basis": " | ".join(p.date.rests_on) if p.date else "",
            "width_mm": mm.get("width"),
            "height_mm": mm.get("height"),
            "measured_how": p.measurements[0].how if p.measurements else "",
            "marks": "; ".join(f"{m.kind}: {m.value}" for m in p.marks),
            "condition": "; ".join(c.said for c in p.condition),
            "hazards": " | ".join(h.words for h in p.hazards),
            "relations": "; ".join(f"{r.word} {identifier(r.other)} ({r.certainty})" for r in p.relations),
            "family": p.family,
            "family_status": p.family_status,
            "location": p.location,
            "received": day(p.received),
            "scans": "; ".join(f"{i.path} ({i.side})" for i in p.images),
            "materials": p.materials.words if p.materials else "",
            "materials_certainty": p.materials.certainty if p.materials else "",
            "remarks": "; ".join(r.words for r in p.remarks),
            "title_inscribed": p.inscribed.words if p.inscribed else "",
            "title_inscribed_certainty": p.inscribed.certainty if p.inscribed else "",
            "format": p.format.words if p.format else "",
            "format_certainty": p.format.certainty if p.format else "",
            "sources": " | ".join(dict.fromkeys(f"{what}: {said(s)}" for what, s in sources(p))),
        }


def sources(p: PieceRecord) -> Iterable[tuple[str, Source]]:
    """(what, on whose word) of every statement of a record."""
    yield "kind", p.kind.source
    if p.title:
        yield "title", p.title.source
    if p.inscribed:
        yield "title as inscribed", p.inscribed.source
    if p.format:
        yield "format", p.format.source
    for r in p.remarks:
        yield "remark", r.source
    if p.materials:
        yield "materials", p.materials.source
    if p.description:
        yield "description", p.description.source
    yield from (("measurement", m.source) for m in p.measurements)
    yield from (("condition", c.source) for c in p.condition)
    yield from ((f"mark {m.value}", m.source) for m in p.marks)


def _families(records: Records, _rules: RecordRules) -> Iterable[Fields]:
    for f in records.families:
        yield _family(f)


def _family(f: FamilyRecord) -> Fields:
    others = f"; and {f.others} more that are not handed out" if f.others else ""
    return {
        "identifier": f.code,
        "title": f.title.words if f.title else "",
        "status": f.status,
        "confirmed_by": f.confirmed.who if f.confirmed else "",
        "confirmed_on": day(f.confirmed.at) if f.confirmed else None,
        "campaign": f.campaign,
        "pieces": "; ".join(map(identifier, f.pieces)) + others,
        "piece_count": len(f.pieces),
        "other_designs": "; ".join(f"{d.code} ({d.certainty})" for d in f.designs),
    }


def _marks(records: Records, _rules: RecordRules) -> Iterable[Fields]:
    for p in records.pieces:
        for m in p.marks:
            yield {
                "piece_identifier": p.identifier,
                "kind": m.kind,
                "text": m.text,
                "value": m.value,
                "country": m.country,
                "scan": m.path,
                "sha256": m.key.digest,
                **dict(zip(("left", "top", "width", "height"), m.box, strict=True)),
                "accepted_by": m.source.who,
                "accepted_on": day(m.source.at),
                "ruling": m.ruling,
                "crop": m.crop,
            }


def _relations(records: Records, _rules: RecordRules) -> Iterable[Fields]:
    for p in records.pieces:
        for r in p.relations:
            yield {
                "piece_identifier": p.identifier,
                "relation": r.word,
                "other_identifier": identifier(r.other),
                "certainty": r.certainty,
                "stated_by": r.source.who,
                "stated_on": day(r.source.at),
                "why": r.source.on,
            }


_ROWS: dict[TableName, Callable[[Records, RecordRules], Iterable[Fields]]] = {
    "pieces": _pieces,
    "families": _families,
    "marks": _marks,
    "relations": _relations,
}
