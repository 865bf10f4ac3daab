"""The tables that leave the tool. Column names are fixed; new ones are added at the end.

Floats are rounded here and nowhere before. Lengths in mm, places in pixels as stored.
"""

from collections.abc import Callable, Iterable
from typing import Any

from intake.config.load import Config
from intake.errors import UsageError
from intake.model import PartKey
from intake.services.condition_rows import condition_rows
from intake.services.dossiers import Dossier
from intake.services.finding_rows import finding_rows
from intake.services.folds import pattern
from intake.services.hazards import UNCONFIRMED
from intake.services.home import Home
from intake.services.known import Known, view
from intake.services.orient import orientations
from intake.services.points import COLUMNS as POINT_COLUMNS
from intake.services.points import point_rows
from intake.services.printers import printers
from intake.stages.dating import Bound

Row = tuple[Any, ...]

_RULED = {"accept_reading": "accepted", "correct_reading": "corrected", "reject_reading": "rejected"}


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
        finding_rows,
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
