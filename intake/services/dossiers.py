"""Everything that is known of each part: the ledger's results brought back together with the files they are of."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from intake.kin import Decision, Verb
from intake.model import (
    Barcoded,
    Box,
    Checked,
    Classified,
    Condition,
    FeatureSummary,
    Finding,
    Folded,
    Mark,
    Measured,
    Parsed,
    PartFound,
    PartKey,
    Reading,
    Received,
    Rendered,
    Rescan,
    Screened,
    Sniped,
    StageResult,
    Stamps,
    Worked,
)
from intake.services.condition import UNWORN, Worn, worn
from intake.services.condition import VERBS as CONDITION_VERBS
from intake.services.hazards import NO_HAZARD, Hazard, Hazards, hazards_of, with_hazards
from intake.services.pieces_ruled import NOT_RULED, PieceRuled, piece_ruled
from intake.services.pieces_ruled import VERBS as PIECE_VERBS
from intake.services.readings import VERBS, RuledMark, place_of, ruled_marks
from intake.services.rulings import standing
from intake.services.sizes import measured_by_hand, without_size_asked
from intake.store import decisions, ledger, readings, scans
from intake.store.codec import from_text
from intake.store.database import Connection

T = TypeVar("T")
_ON_PARTS: tuple[Verb, ...] = (*VERBS, *PIECE_VERBS, *CONDITION_VERBS)


@dataclass(frozen=True, slots=True)
class Dossier:
    """One part of one received file. A stage that has not been done, or failed, is None.

    ``piece`` is the physical thing's name within its box; where a scan shows several, each part is a piece of its own.
    ``findings`` and ``hazard`` are as people ruled on hazards; ``measured`` bears the format that a person said it is.
    ``copies`` are other received files with the same bytes. ``readings`` are its marks with what people ruled on them,
    rejected ones too; ``parsed`` holds the marks that stand: as ruled, and none that was rejected.
    """

    key: PartKey
    scan: Received
    piece: str
    copies: tuple[Received, ...]
    found: PartFound | None
    checked: Checked | None
    rendered: Rendered | None
    classified: Classified | None
    measured: Measured | None
    screened: Screened | None
    features: FeatureSummary | None
    reading: Reading | None
    parsed: Parsed | None
    findings: tuple[Finding, ...]
    readings: tuple[RuledMark, ...] = ()
    hazard: Hazard = NO_HAZARD
    folded: Folded | None = None
    ruled: PieceRuled = NOT_RULED
    worn: Worn = UNWORN
    sniped: Sniped | None = None

    @property
    def kind(self) -> str:
        """The kind that a person said it is, or that was told, or ``unknown``."""
        return self.ruled.kind or (self.classified.kind if self.classified else "unknown")

    @property
    def title(self) -> str:
        """How the desk names the part: box and piece."""
        return f"{self.scan.box} / {self.piece}"


@dataclass(frozen=True, slots=True)
class _Rulings:
    """What people ruled on readings, by file, what those rulings say by themselves, and what they ruled on hazards and
    sizes."""

    on: Mapping[str, list[Decision]]
    said: Mapping[int, Mark]
    hazards: Hazards
    pieces: Mapping[PartKey, list[Decision]]
    worn: Mapping[str, list[Decision]]
    sizes: Mapping[PartKey, Measured]


def dossiers(connection: Connection, stamps: Stamps, code: str | None = None) -> list[Dossier]:
    """Every part of every received file, by consignment, path and part; files not looked at yet as their part 1."""
    return dossiers_of_scans(connection, stamps, scans.all_scans(connection, code))


def dossiers_of_scans(connection: Connection, stamps: Stamps, received: Sequence[Received]) -> list[Dossier]:
    """Every part of these files, in their order; files not looked at yet as their part 1."""
    by_digest: dict[str, list[Received]] = {}
    for scan in received:
        by_digest.setdefault(scan.digest, []).append(scan)
    have = ledger.results_of(connection, list(by_digest), stamps.entries)
    ruled = _rulings(connection, decisions.decisions_on_readings(connection, _ON_PARTS), received)
    made = [d for scan in received for d in _of_scan(scan, by_digest[scan.digest], have[scan.digest], ruled)]
    return _as_fronts_say(connection, stamps, made, ruled.sizes)


def dossiers_of(
    connection: Connection, stamps: Stamps, keys: Iterable[PartKey], code: str = ""
) -> dict[PartKey, Dossier]:
    """The dossier of each of these parts, under the first file (by consignment and path) that holds it.

    A file of consignment ``code`` goes before those of others.
    """
    wanted = set(keys)
    digests = sorted({k.digest for k in wanted})
    have = ledger.results_of(connection, digests, stamps.entries)
    received = scans.scans_of(connection, digests)
    made_on = decisions.decisions_on_readings(connection, _ON_PARTS, digests)
    ruled = _rulings(connection, made_on, received)
    by_digest: dict[str, list[Received]] = {}
    for scan in received:
        by_digest.setdefault(scan.digest, []).append(scan)
    made: dict[PartKey, Dossier] = {}
    for group in by_digest.values():
        first = next((s for s in group if s.consignment == code), group[0])
        made |= {d.key: d for d in _of_scan(first, group, have[first.digest], ruled)}
    kept = _as_fronts_say(connection, stamps, [made[key] for key in wanted if key in made], ruled.sizes)
    return {d.key: d for d in kept}


def _as_fronts_say(
    connection: Connection, stamps: Stamps, made: list[Dossier], by_hand: Mapping[PartKey, Measured]
) -> list[Dossier]:
    """Without the formats of backs whose front has none.

    A back looks like any other, so what it is the back of is told by its front: a painting is issued in no format, and
    that its size comes near one says nothing. A back without a front that was measured keeps what its size suggests.
    """
    backs = [d for d in made if d.scan.side == "verso" and d.measured and d.measured.format and not d.ruled.format]
    if not backs or "measure" not in stamps.stages:
        return made
    names = {_piece_of(d.scan) for d in backs}
    beside = scans.scans_of(connection, sorted(scans.digests_of_pieces(connection, names)))
    fronts = {s.digest: _piece_of(s) for s in beside if s.side not in ("verso", "detail")}
    told = ledger.payloads_of(connection, sorted(fronts), "measure", stamps.stages["measure"])
    sizes = {key: from_text(Measured, payload) for key, payload in told}
    sizes |= {key: size for key, size in by_hand.items() if key.digest in fronts}
    offered: dict[tuple[str, str, str], set[bool]] = {}
    for key, size in sizes.items():
        if size.format_fit != "size unknown":
            offered.setdefault(fronts[key.digest], set()).add(bool(size.format))
    without = {d.key for d in backs if offered.get(_piece_of(d.scan)) == {False}}
    return [
        replace(d, measured=replace(d.measured, format="", format_fit="no format known", candidates=()))
        if d.key in without and d.measured
        else d
        for d in made
    ]


def _piece_of(scan: Received) -> tuple[str, str, str]:
    return scan.consignment, scan.box, scan.piece


def _rulings(connection: Connection, made: Sequence[Decision], received: Sequence[Received]) -> _Rulings:
    on: dict[str, list[Decision]] = {}
    pieces: dict[PartKey, list[Decision]] = {}
    worn_on: dict[str, list[Decision]] = {}
    for decision in standing(made):  # an undoing names no verb: sorted apart, it would miss what it takes back
        if decision.verb in PIECE_VERBS:
            pieces.setdefault(decision.parts[0], []).append(decision)
        elif decision.verb in CONDITION_VERBS:
            worn_on.setdefault(decision.parts[0].digest, []).append(decision)
        else:
            on.setdefault(decision.parts[0].digest, []).append(decision)
    said = readings.said_by(connection, (d.id for d in made if d.verb in VERBS))
    return _Rulings(on, said, hazards_of(connection, received), pieces, worn_on, measured_by_hand(connection))


def _with_rulings(
    parsed: Parsed | None, on: Sequence[Decision], said: Mapping[int, Mark]
) -> tuple[Parsed | None, tuple[RuledMark, ...]]:
    marks = ruled_marks(parsed.marks if parsed else (), on, said)
    if parsed is None and not marks:
        return None, ()
    stand = tuple(r.mark for r in marks if not r.rejected)
    return replace(parsed or Parsed(()), marks=stand), tuple(marks)


def _ruled_part(decision: Decision, parts: Sequence[PartFound | None]) -> int:
    """The part that a ruling is on: the one it names, or, where parts are told otherwise now, that of its place."""
    named, place = decision.parts[0].part, place_of(decision)
    holding = [p.part for p in parts if p and place and _holds(p.box, place)]
    there = {p.part if p else 1 for p in parts}
    return named if named in there and (named in holding or not holding) else min(holding or there)


def _holds(part: Box, place: Box) -> bool:
    x, y = place.left + place.width / 2 - part.left, place.top + place.height / 2 - part.top
    return 0 <= x < part.width and 0 <= y < part.height


def _of_scan(
    scan: Received, same: Sequence[Received], have: dict[Worked, StageResult], ruled: _Rulings
) -> list[Dossier]:
    def result(kind: type[T], stage: str, part: int) -> T | None:
        entry = have.get(Worked(PartKey(scan.digest, part), stage))
        return from_text(kind, entry.payload) if entry is not None and entry.state == "done" else None

    broken = [from_text(Finding, r.payload) for r in have.values() if r.state != "done" and r.payload]
    copies = tuple(s for s in same if s.path != scan.path or s.consignment != scan.consignment)
    checked = result(Checked, "check", 0)
    parts: Sequence[PartFound | None] = checked.parts if checked and checked.parts else (None,)
    on: dict[int, list[Decision]] = {}
    for decision in ruled.on.get(scan.digest, ()):
        on.setdefault(_ruled_part(decision, parts), []).append(decision)
    on_worn: dict[int, list[Decision]] = {}
    for decision in ruled.worn.get(scan.digest, ()):
        on_worn.setdefault(decision.parts[0].part, []).append(decision)
    made = []
    for found in parts:
        number = found.part if found else 1
        rendered = result(Rendered, "render", number)
        classified = result(Classified, "classify", number)
        folded = result(Folded, "fold", number)
        condition = result(Condition, "condition", number)
        quality = result(Rescan, "rescan", number)
        measured = result(Measured, "measure", number)
        screened = result(Screened, "screen", number)
        features = result(FeatureSummary, "fingerprint", number)
        reading = result(Reading, "read", number)
        parsed, marks = _with_rulings(result(Parsed, "parse", number), on.get(number, ()), ruled.said)
        codes = result(Barcoded, "barcode", number)
        stages = (
            rendered,
            classified,
            folded,
            condition,
            quality,
            measured,
            screened,
            features,
            reading,
            codes,
            parsed,
        )
        findings = [f for stage in stages if stage for f in stage.findings]
        findings += [f for f in (*(checked.findings if checked else ()), *broken) if f.part in (0, number)]
        key, piece = PartKey(scan.digest, number), scan.piece if len(parts) == 1 else f"{scan.piece}.{number}"
        on_piece = piece_ruled(ruled.pieces.get(key, ()))
        seen = ruled.hazards.look(scan, piece, key, found.box if found else None, findings)
        hazard, as_ruled = with_hazards(seen, findings, number)
        if key in ruled.sizes:
            measured, as_ruled = ruled.sizes[key], without_size_asked(as_ruled)
        made.append(
            Dossier(
                key,
                scan,
                piece,
                copies,
                found,
                checked,
                rendered,
                classified,
                on_piece.measured(measured),
                screened,
                features,
                reading,
                parsed,
                as_ruled,
                marks,
                hazard,
                folded,
                on_piece,
                worn(condition, on_worn.get(number, ())),
                result(Sniped, "snipe", number),
            )
        )
    return made
