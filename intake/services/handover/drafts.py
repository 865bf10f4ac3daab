"""Draft entries in plain prose, from the house's own template (config/entry.txt).

A draft says what the records say, no more: marks as people accepted them, each fact with a number that leads to where
it comes from, gaps left open, doubt kept. It never says what a piece is worth, who made it, or that it is genuine.
"""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from intake.config.load import Config
from intake.config.records import RecordRules
from intake.services.handover.files import write_text
from intake.services.handover.flat import identifier, said
from intake.services.handover.record import PieceRecord, Source, Wanted
from intake.services.handover.records import records
from intake.services.handover.sound import sound
from intake.services.home import Home

_FIELD = re.compile(r"\{([a-z_]+)\}")
_OPEN = "? "
_GAP = "not stated"
_LONGEST = 2_000

Fact = tuple[str, Source | None]


def export_drafts(home: Home, config: Config, to: Path, wanted: Wanted) -> int:
    """Write ``drafts.txt`` into the folder ``to``; returns the number of entries."""
    found = records(home, config, wanted)
    write_text(to / "drafts.txt", (f"{draft(p, config)}\n" for p in found.pieces))
    return len(found.pieces)


def draft(p: PieceRecord, config: Config) -> str:
    """One entry with its list of sources."""
    known = _facts(p, config.records)
    sources: list[str] = []

    def number(source: Source) -> str:
        words = said(source)
        if words not in sources:
            sources.append(words)
        return f"[{sources.index(words) + 1}]"

    def words_of(facts: Sequence[Fact]) -> str:
        return "; ".join(f"{_plain(w)} {number(s)}" if s else _plain(w) for w, s in facts)

    lines = []
    for line in config.entry:
        is_open = line.startswith(_OPEN)
        names = _FIELD.findall(line)
        if any(not known[n] for n in names):
            if not is_open:
                continue
            lines.append(_FIELD.sub(lambda m: words_of(known[m[1]]) or f"[{_GAP}]", line.removeprefix(_OPEN)))
        else:
            lines.append(_FIELD.sub(lambda m: words_of(known[m[1]]), line.removeprefix(_OPEN)))
    return "\n".join([*lines, "Sources:", *(f"  [{n}] {_plain(s)}" for n, s in enumerate(sources, start=1)), ""])


def _facts(p: PieceRecord, rules: RecordRules) -> dict[str, list[Fact]]:
    size = " × ".join(f"{m.value_mm:g}" for m in p.measurements)
    return {
        "piece": [(p.identifier, None)],
        "kind": [(p.kind.said, p.kind.source)],
        "title": [(p.title.said, p.title.source)] if p.title else [],
        "description": [(f"“{p.description.words}”", p.description.source)] if p.description else [],
        "size": [(f"{size} mm, {p.measurements[0].how}", p.measurements[0].source)] if p.measurements else [],
        "format": [(p.format.said, p.format.source)] if p.format else [],
        "materials": [(p.materials.said, p.materials.source)] if p.materials else [],
        "date": [(p.date.words, Source("the marks", on=" | ".join(p.date.rests_on)))] if p.date else [],
        "date_edtf": [(p.date.edtf, Source("the marks", on=" | ".join(p.date.rests_on)))] if p.date else [],
        "makers": [(f"{rules.makers[m.kind]}: {m.value}", m.source) for m in p.marks if m.kind in rules.makers],
        "marks": list(_marks(p, rules)),
        "condition": [(c.said, c.source) for c in p.condition],
        "relations": [
            (f"{r.word} {identifier(r.other)} ({r.certainty})", r.source)
            for r in p.relations
            if r.certainty != "rejected"
        ],
        "remarks": [(r.words, r.source) for r in p.remarks],
        "hazards": [(h.words, h.source) for h in p.hazards],
        "location": [(p.location, None)],
    }


def _marks(p: PieceRecord, rules: RecordRules) -> Iterator[Fact]:
    for m in p.marks:
        if m.kind not in rules.makers:
            yield f"{m.kind.replace('_', ' ')} {m.value}", m.source


def _plain(text: str) -> str:
    """One line, without what a terminal or a page could take for more than words."""
    return " ".join(sound(text)[:_LONGEST].split())
