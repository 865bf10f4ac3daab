"""The tables that leave the tool. Column names are fixed; new ones are added at the end.

Floats are rounded here and nowhere before. Lengths in mm, places in pixels as stored.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from intake.config.load import Config
from intake.errors import UsageError
from intake.kin import ANEW, Differences, Family, Match, NumberedSet, Section
from intake.model import Finding, Listed, PartKey, Stamps
from intake.services.condition_rows import condition_rows
from intake.services.dates import PieceDates, PieceName, piece_dates
from intake.services.dossiers import Dossier, dossiers
from intake.services.folds import pattern
from intake.services.hazards import UNCONFIRMED, BoxHazards, box_hazards
from intake.services.home import Home
from intake.services.orient import orientations
from intake.services.points import COLUMNS as POINT_COLUMNS
from intake.services.points import Point, point_rows, points_on
from intake.services.printers import printers
from intake.services.progress import BoxProgress, progress
from intake.services.several import differ, number_words, places, section_words
from intake.stages.dating import Bound
from intake.store import campaigns, differences, families, moves, pairs, relations, runs, scans, several, withdrawals
from intake.store.database import Connection

Row = tuple[Any, ...]

_RULED = {"accept_reading": "accepted", "correct_reading": "corrected", "reject_reading": "rejected"}


@dataclass(frozen=True, slots=True)
class Known:
    """One consistent view of the ledger, from which every table is made."""

    config: Config
    parts: list[Dossier]
    matches: list[Match]
    families: list[Family]
    campaigns: dict[str, str]
    sets: list[NumberedSet]
    sections: list[Section]
    listed: dict[str, list[Listed]]
    receipt: dict[str, list[tuple[str, Finding]]]
    overlays: set[PieceName]
    boxes: tuple[BoxProgress, ...]
    hazards: list[BoxHazards]
    moves: list[moves.Move]
    withdrawals: list[withdrawals.Withdrawal]
    differences: list[Differences]
    points: list[Point]

    @property
    def by_key(self) -> dict[PartKey, Dossier]:
        """Each part once, under its first file."""
        made: dict[PartKey, Dossier] = {}
        for dossier in self.parts:
            made.setdefault(dossier.key, dossier)
        return made

    def finder(self) -> Callable[[PartKey], Dossier]:
        """Finds a part that a match or a family names; where its file was not looked at anew yet, the file's first."""
        by_key, by_digest = self.by_key, {d.key.digest: d for d in reversed(self.parts)}
        return lambda key: by_key.get(key) or by_digest[key.digest]

    def dates(self) -> list[PieceDates]:
        """Every piece with what its marks suggest."""
        return piece_dates(self.parts, self.overlays, self.config)


def view(home: Home, config: Config, parts: Callable[[Connection, Stamps], list[Dossier]] = dossiers) -> Known:
    """Read everything in one transaction, under the stamps of the newest run. ``parts`` reads the dossiers."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        codes = [c.code for c in scans.consignments(connection)]
        return Known(
            config,
            parts(connection, stamps),
            pairs.all_matches(connection, stamps.match),
            families.all_families(connection),
            campaigns.campaigns_by_family(connection),
            several.all_sets(connection),
            several.all_sections(connection),
            {code: scans.listed_pieces(connection, code) for code in codes},
            {code: scans.receipt_findings(connection, code) for code in codes},
            relations.overlays(connection),
            progress(home).boxes,
            box_hazards(connection, stamps),
            moves.all_moves(connection),
            withdrawals.all_withdrawals(connection),
            differences.all_differences(connection),
            points_on(connection),
        )


def table(home: Home, config: Config, name: str) -> tuple[tuple[str, ...], list[Row]]:
    """Columns and rows of one table. Raises UsageError when there is no such table."""
    if name not in TABLES:
        raise UsageError(f"{name}: no such table. There are: {', '.join(TABLES)}.")
    columns, rows = TABLES[name]
    return columns, list(rows(view(home, config)))


def _scans(known: Known) -> Iterable[Row]:
    upright = orientations(known.by_key, known.matches)
    family = {m.key: f.code for f in known.families for m in f.members}
    held = {p.name for b in known.hazards for p in b.held}
    noted = {b.name: [n.code for n in b.notes] for b in known.hazards}
    for d in known.parts:
        state = "waiting" if d.checked is None and not d.findings else "done"
        if d.checked is not None and not d.checked.parts:
            state = "unreadable"
        elif any(f.code in ("quarantined", "stage_failed") for f in d.findings):
            state = "failed"
        turn = upright[d.key]
        m = d.measured
        is_held = (d.scan.consignment, d.scan.box, d.piece) in held  # by this scan, or by another one of the piece
        codes = [*(("possible_nitrate",) if is_held else ()), *d.hazard.codes]
        codes += noted.get((d.scan.consignment, d.scan.box), ())
        yield (
            d.scan.consignment,
            d.scan.box,
            d.piece,
            d.scan.side,
            d.scan.path,
            d.key.part,
            d.scan.digest,
            state,
            d.kind,
            _round(d.classified.kind_confidence if d.classified and not d.ruled.kind else None),
            d.classified.polarity if d.classified else "unknown",
            turn.rotation,
            turn.mirrored,
            _round(m.width_mm if m else None, 1),
            _round(m.height_mm if m else None, 1),
            m.size_source if m else "",
            "; ".join(m.candidates or (m.format,)) if m else "",
            m.format_fit if m else "",
            family.get(d.key, ""),
            pattern(d.folded, turn.rotation) if d.folded else "",
            _round(d.folded.skew_deg if d.folded else None, 2),
            _round(d.screened.lpi if d.screened else None, 1),
            d.screened.tone if d.screened else "",
            UNCONFIRMED if is_held else d.hazard.base,
            "; ".join(dict.fromkeys(codes)),
        )


def _marks(known: Known) -> Iterable[Row]:
    for d in known.parts:
        for ruled in d.readings:
            mark = ruled.mark
            readers = "; ".join(f"{r.reader}: {r.text} ({r.confidence:.2f})" for r in mark.readers)
            yield (
                d.scan.path,
                d.key.part,
                mark.kind,
                mark.text,
                mark.value,
                mark.year_from,
                mark.year_to,
                mark.accepted,
                _round(mark.confidence),
                *mark.box,
                readers,
                mark.country,
                mark.dates,
                mark.rule,
                "; ".join(f"{first or ''}/{last or ''}" for first, last in mark.periods),
                mark.town,
                _RULED[ruled.by.verb] if ruled.by else "",
                d.sniped is not None and d.sniped.bears(mark.box),
            )


def _dates(known: Known) -> Iterable[Row]:
    for one in known.dates():
        paths = {d.key: d.scan.path for d in one.scans}

        def rests(bound: Bound | None, paths: dict[PartKey, str] = paths) -> Row:
            if bound is None:
                return (None, None, "")
            mark = bound.at.mark
            place = f"{paths[bound.at.key]}, part {bound.at.key.part}, {' '.join(map(str, mark.box))}"
            return (bound.year, bound.doubtful, f"{mark.kind}: {mark.value} ({place}): {bound.why}")

        dated = one.dated
        yield (
            *one.piece,
            dated.edtf,
            *rests(dated.not_before),
            *rests(dated.certain or (dated.not_before if dated.not_before and dated.not_before.firm else None)),
            *rests(dated.until),
            len(dated.contradictions),
            " ".join(c.words for c in dated.contradictions),
            dated.words,
        )


def _printers(known: Known) -> Iterable[Row]:
    for p in printers(known.dates(), known.config.parse.legal_forms):
        first, last = (min(p.years), max(p.years)) if p.years else (None, None)
        several = ("; ".join(sorted(counted)) for counted in (p.spellings, p.towns, p.countries))
        yield (p.consignment, p.name, *several, len(p.pieces), first, last)


def _differences(known: Known) -> Iterable[Row]:
    find = known.finder()
    for report in known.differences:
        a, b = find(report.a), find(report.b)
        scans = (a.scan.path, report.a.part, b.scan.path, report.b.part)
        for d in report.regions:
            places = [*(d.a or ("",) * 4), *(d.b or ("",) * 4)]
            yield (*scans, d.kind, *places, "" if d.factor is None else _round(d.factor), _round(d.certainty), d.words)


def _matches(known: Known) -> Iterable[Row]:
    of = known.finder()
    for m in known.matches:
        yield (
            of(m.a).scan.path,
            m.a.part,
            of(m.b).scan.path,
            m.b.part,
            m.relation,
            _round(m.probability),
            m.inliers,
            _round(m.coverage_a),
            _round(m.coverage_b),
            m.polarity_flip,
            m.mirror,
            _round(m.rotation, 1),
            _round(m.scale),
        )


def _families(known: Known) -> Iterable[Row]:
    of = known.finder()
    files: dict[PartKey, list[Dossier]] = {}
    for d in known.parts:
        files.setdefault(d.key, []).append(d)
    for f in known.families:
        for m in f.members:
            for d in files.get(m.key) or [of(m.key)]:
                place = (d.piece, d.scan.path, m.key.part)
                campaign = known.campaigns.get(f.code, "")
                yield (f.code, f.status, f.title, *place, m.role, _round(m.probability), campaign)


def _findings(known: Known) -> Iterable[Row]:
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


def _boxes(known: Known) -> Iterable[Row]:
    for b in known.boxes:
        yield (
            b.consignment,
            b.box,
            b.listed,
            b.received,
            b.missing,
            b.extra,
            b.doubled,
            b.not_scanned,
            b.checked,
            b.read,
            b.matched,
            b.reviewed,
            b.rescan,
            b.held,
        )


def _moves(known: Known) -> Iterable[Row]:
    for m in known.moves:
        yield (m.consignment, m.box, m.piece, m.from_place, m.to_place, m.at, m.who, m.why)


def _withdrawals(known: Known) -> Iterable[Row]:
    for w in known.withdrawals:
        removed = "; ".join(f"{count} {what}" for what, count in w.account["removed"].items())
        yield (w.consignment, w.at, w.who, w.why, removed, " ".join(w.account["files"]))


def _round(value: float | None, digits: int = 3) -> float | None:
    return None if value is None else round(value, digits) + 0.0  # never -0.0


TABLES: dict[str, tuple[tuple[str, ...], Callable[[Known], Iterable[Row]]]] = {
    "scans": (
        (
            "consignment", "box", "piece", "side", "scan", "part", "sha256", "state", "kind", "kind_confidence",
            "polarity", "rotation", "mirrored", "width_mm", "height_mm", "size_source", "format", "format_fit",
            "family", "fold_pattern", "skew_deg", "screen_lpi", "tone", "base", "hazard",
        ),
        _scans,
    ),
    "marks": (
        (
            "scan", "part", "kind", "text", "value", "year_from", "year_to", "accepted", "confidence", "left", "top",
            "width", "height", "readers", "country", "dates", "rule", "periods", "town", "ruling", "on_strip",
        ),
        _marks,
    ),
    "matches": (
        (
            "scan_a", "part_a", "scan_b", "part_b", "relation", "probability", "inliers", "coverage_a", "coverage_b",
            "polarity_flip", "mirror", "rotation", "scale",
        ),
        _matches,
    ),
    "differences": (
        (
            "scan_a", "part_a", "scan_b", "part_b", "kind", "left_a", "top_a", "width_a", "height_a", "left_b", "top_b",
            "width_b", "height_b", "factor", "certainty", "words",
        ),
        _differences,
    ),
    "families": (("family", "status", "title", "piece", "scan", "part", "role", "probability", "campaign"), _families),
    "findings": (
        ("consignment", "box", "piece", "scan", "part", "stage", "code", "severity", "message"),
        _findings,
    ),
    "boxes": (
        (
            "consignment", "box", "listed", "received", "missing", "extra", "doubled", "not_scanned", "checked", "read",
            "matched", "reviewed", "rescan", "held",
        ),
        _boxes,
    ),
    "dates": (
        (
            "consignment", "box", "piece", "edtf", "not_before", "not_before_doubtful", "not_before_by", "firm_from",
            "firm_doubtful", "firm_by", "usual_until", "until_doubtful", "until_by", "contradictions", "contradictory",
            "words",
        ),
        _dates,
    ),
    "printers": (
        ("consignment", "printer", "spellings", "towns", "countries", "pieces", "first_year", "last_year"),
        _printers,
    ),
    "moves": (("consignment", "box", "piece", "from", "to", "at", "who", "why"), _moves),
    "withdrawals": (("consignment", "at", "who", "why", "removed", "files"), _withdrawals),
    "condition": (
        (
            "consignment", "box", "piece", "scan", "part", "sort", "state", "certainty", "left", "top", "width",
            "height", "grade", "scale", "words", "at", "who", "unframed", "both_sides", "light",
        ),
        lambda known: condition_rows(known.parts),
    ),
    "points": (POINT_COLUMNS, lambda known: point_rows(known.points)),
}  # fmt: skip
