"""The table of findings: of receiving and of scans, of what is missing or held, and of one piece beside another."""

from collections.abc import Iterable
from typing import Any

from intake.kin import ANEW
from intake.model import Listed
from intake.services.dossiers import Dossier
from intake.services.known import Known
from intake.services.several import differ, number_words, places, section_words

Row = tuple[Any, ...]


def finding_rows(known: Known) -> Iterable[Row]:
    """Its rows: place, stage, code, severity, words."""
    for code, found in known.receipt.items():
        for path, f in found:
            box = path.split("/")[0] if "/" in path else ""
            yield (code, box, "", path, "", f.stage, f.code, f.severity, f.message)
    for b in known.boxes:
        for piece in b.missing_pieces:
            yield (
                b.consignment, b.box, piece, "", "", "receive", "missing", "attention",
                "is on the box list, but no scan of it came and no reason is given. Look in the box.",
            )  # fmt: skip
        for piece in b.extra_pieces:
            yield (
                b.consignment, b.box, piece, "", "", "receive", "not_listed", "attention",
                "was received but is not on the box list. Check its number, or have the list amended.",
            )  # fmt: skip
    for code, lines in known.listed.items():
        here = {(d.scan.box, d.scan.piece) for d in known.parts if d.scan.consignment == code}
        for line in lines:
            if line.held and (line.box, line.piece) not in here:
                yield (
                    code, line.box, line.piece, "", "", "receive", "held", "note",
                    f"was not scanned: {line.why or 'held, no reason given'}.",
                )  # fmt: skip
        yield from _sides(known, code, lines)
    for d in known.parts:
        place = (d.scan.consignment, d.scan.box, d.piece, d.scan.path, d.key.part)
        for f in d.findings:
            yield (*place, f.stage, f.code, f.severity, f.message)
        other = d.copies[0] if d.copies else d.scan
        if (other.consignment, other.path) < (d.scan.consignment, d.scan.path):
            where = "" if other.consignment == d.scan.consignment else f" of {other.consignment}"
            yield (
                *place, "check", "duplicate_file", "note",
                f"is the same file, byte for byte, as {other.path}{where}. One of the two can be left out.",
            )  # fmt: skip
    seen = {(d.scan.consignment, d.scan.box, d.piece) for d in known.parts}
    for hazards in known.hazards:
        apart = [n for p in hazards.pieces if p.name not in seen for n in p.notes]
        for note in (*hazards.notes, *apart):
            yield (*note.name, "", "", "hazards", "noted_hazard", "hazard", note.says)
    yield from _across(known)


def _sides(known: Known, code: str, lines: Iterable[Listed]) -> Iterable[Row]:
    """Pieces of which the box list promises two sides and one alone was received, by what the files are called."""
    sides: dict[tuple[str, str], set[str]] = {}
    for d in known.parts:
        if d.scan.consignment == code:
            sides.setdefault((d.scan.box, d.scan.piece), set()).add(d.scan.side)
    for line in lines:
        here = sides.get((line.box, line.piece), set()) & {"recto", "verso"}
        if line.sides == 2 and len(here) == 1:
            lacking = "back" if "recto" in here else "front"
            yield (
                code, line.box, line.piece, "", "", "receive", "side_missing", "attention",
                f"is listed with two sides, but no scan of its {lacking} came. Have it scanned, or the list amended.",
            )  # fmt: skip


def _across(known: Known) -> Iterable[Row]:
    """What is told of a piece beside another one: scanned again, or no double at all."""
    of = known.finder()

    def place(d: Dossier) -> Row:
        return (d.scan.consignment, d.scan.box, d.piece, d.scan.path, d.key.part)

    numbers = places(known.sets)
    divided = {(s.a, s.b) for s in known.sections}
    for m in known.matches:
        is_set = differ(numbers.get(m.a), numbers.get(m.b))
        if m.relation == "same_piece" and not is_set and (m.a, m.b) not in divided:
            first, second = _in_turn(of(m.a), of(m.b))
            if any(e.name == ANEW for e in m.evidence):
                words = f"is by its frame the very scan {first.scan.path}, saved anew. One of the two is enough."
                yield (*place(second), "match", "saved_anew", "note", words)
                continue
            words = f"seems to show the very piece of {first.scan.path} again. If so, one of the two is enough."
            yield (*place(second), "match", "re_scan", "note", words)
    for s in known.sections:
        first, second = _in_turn(of(s.a), of(s.b))
        shared = s.shared_a if second.key == s.a else s.shared_b
        yield (*place(second), "match", "section", "note", section_words(shared, first.scan.path))
    for numbered in known.sets:
        for key, number in numbered.numbers:
            yield (*place(of(key)), "match", "numbered_set", "note", number_words(numbered, number))


def _in_turn(one: Dossier, other: Dossier) -> list[Dossier]:
    """Of two names the longer is the later: scanning houses add "(2)", "again", "rescan"."""
    return sorted((one, other), key=lambda d: (len(d.scan.path), d.scan.path, d.key))
