"""Which pieces are under hold as possible nitrate, which are not any more by whose word, and what else was noted.

A hold stands where the picture may be of flexible film, where NITRATE was read, or where a person noted film. Only a
clearing ends it, for the pieces that it names. A later look that takes the piece for something else ends none: it says
so beside the hold, and two people rule. What speaks against a clearing afterwards (NITRATE read where nobody had
seen it, by any reader under any settings; film noted anew) puts the hold back.

Imports nothing heavy: progress leans on it.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from intake.config.hazards import POSSIBLE_NITRATE
from intake.model import Box, Checked, Finding, PartFound, PartKey, Received, Stamps
from intake.ocr.nitrate import says_nitrate
from intake.services.clearing import (
    VERBS,
    BoxName,
    Clearing,
    HazardRulings,
    Note,
    PieceName,
    hazard_rulings,
    puts_on_hold,
)
from intake.services.readings import VERBS as READING_VERBS
from intake.services.readings import is_same_place
from intake.services.rulings import standing
from intake.store import decisions, desk, ledger, scans
from intake.store.codec import from_text
from intake.store.database import Connection

HOLDING = frozenset({"possible_nitrate", "nitrate_read"})
UNCONFIRMED = "unconfirmed"
_FEW = 2_000  # so many files are asked for one by one; of more, all are
_HELD_BY_NOTE = (
    "is held as possible cellulose nitrate: its base is not confirmed. The tool cannot tell nitrate from safety film."
)
_HELD_BEFORE = (
    "is held as possible cellulose nitrate: an earlier look took it for flexible film. The newest look does not; a "
    "look of the tool's ends no hold. Two named people rule on it, also where it is no film at all."
)
_FLAG = '"code":"possible_nitrate"'
_PUT_BACK = (
    "was ruled safety, and then NITRATE was read on it or film was noted anew: the hold is back until two people have "
    "looked again."
)


@dataclass(frozen=True, slots=True)
class Hazard:
    """What is known of one part. ``base`` is of flexible film alone: unconfirmed, or ruled safety by whom, on what.

    ``by`` is the part of it that names them. ``codes`` name what can hurt: possible_nitrate first, then glass, then
    what was noted.
    """

    base: str = ""
    by: str = ""
    codes: tuple[str, ...] = ()


NO_HAZARD = Hazard()


@dataclass(frozen=True, slots=True)
class PieceHazard:
    """One piece, over all its scans. ``opposed``: it was ruled safety, and something spoke against it afterwards.

    ``held_before``: a look under other settings took it for film, and the shown one does not.
    """

    name: PieceName
    on_hold: bool
    nitrate_read: bool
    glass: bool
    opposed: bool
    clearing: Clearing | None
    notes: tuple[Note, ...]
    held_before: bool = False


@dataclass(frozen=True, slots=True)
class BoxHazards:
    """One box: its pieces of which something is to be said, by name, and what was noted of the box as a whole."""

    name: BoxName
    pieces: tuple[PieceHazard, ...]
    notes: tuple[Note, ...]

    @property
    def held(self) -> list[PieceHazard]:
        """The pieces under hold."""
        return [p for p in self.pieces if p.on_hold]


@dataclass(frozen=True, slots=True)
class Hazards:
    """The rulings on hazards, and on which parts NITRATE was ever read of the pieces that were ruled safety.

    ``film``: the parts that any look ever took for film; part 0, for all, of files that looks divided otherwise.
    """

    rulings: HazardRulings
    nitrate: Mapping[PieceName, frozenset[PartKey]] = field(default_factory=dict)
    film: frozenset[PartKey] = frozenset()

    def notes_on(self, name: PieceName) -> tuple[Note, ...]:
        """What was noted of this piece; of the box as a whole where the piece is empty."""
        return tuple(n for n in self.rulings.notes if n.name == name)

    def clearing_of(self, name: PieceName, key: PartKey | None, place: Box | None, alone: bool) -> Clearing | None:
        """The newest clearing that names this piece.

        A piece that fills a scan goes by its name. One of several on a scan goes by its picture too: where the scan is
        divided otherwise now, the same name may be another thing.
        """
        for clearing in reversed(self.rulings.clearings):
            if name in clearing.proposal.pieces:
                there = clearing.proposal.places.get(key) if key else None
                if alone or (there and place and there[0] == name and is_same_place(there[1], place)):
                    return clearing
        return None

    def opposes(self, clearing: Clearing, name: PieceName) -> bool:
        """Has something spoken against this clearing since it was proposed?"""
        later = [n for n in self.notes_on(name) if puts_on_hold(n) and n.decision.id > clearing.proposal.decision.id]
        return bool(later) or bool(self.nitrate.get(name, frozenset()) - clearing.proposal.seen)

    def look(
        self, scan: Received, piece: str, key: PartKey, place: Box | None, found: Sequence[Finding]
    ) -> PieceHazard:
        """What is to be said of one part's piece, by what was found on the part and what people said."""
        name = (scan.consignment, scan.box, piece)
        clearing = self.clearing_of(name, key, place, piece == scan.piece)
        before = not self.film.isdisjoint((key, PartKey(key.digest, 0)))
        return self._judge(name, {f.code for f in found}, clearing, before)

    def unseen(self, name: PieceName) -> PieceHazard:
        """What is to be said of a piece of which there is no scan, by what people said."""
        return self._judge(name, set(), self.clearing_of(name, None, None, True), False)

    def _judge(self, name: PieceName, codes: set[str], clearing: Clearing | None, before: bool) -> PieceHazard:
        notes = self.notes_on(name)
        before = before and "possible_nitrate" not in codes
        if not codes & HOLDING and not before and not any(map(puts_on_hold, notes)):
            return PieceHazard(name, False, False, "glass" in codes, False, None, notes)
        opposed = clearing is not None and self.opposes(clearing, name)
        on_hold = clearing is None or opposed
        return PieceHazard(name, on_hold, "nitrate_read" in codes, "glass" in codes, opposed, clearing, notes, before)


def hazards_of(connection: Connection, received: Iterable[Received]) -> Hazards:
    """The rulings, with what is needed to judge them for the pieces of these files."""
    ruled = hazard_rulings(decisions.decisions_of(connection, VERBS))
    here = list(received)
    film = _ever_film(connection, sorted({scan.digest for scan in here}))
    if not ruled.clearings:
        return Hazards(ruled, film=film)
    digests: set[str] = set()
    boxes: dict[BoxName, None] = {}
    names: set[PieceName] = set()
    for scan in here:
        digests.add(scan.digest)
        names.add((scan.consignment, scan.box, scan.piece))
        boxes[scan.consignment, scan.box] = None
    of: dict[PieceName, set[str]] = {}
    for clearing in ruled.clearings:
        for name in clearing.proposal.pieces & names:
            of.setdefault(name, set())
        # Of pieces that share a scan the file counts, whatever its parts are called now.
        for key, (name, _) in clearing.proposal.places.items():
            if key.digest in digests or name in names:
                of.setdefault(name, set()).add(key.digest)
    for code, box in boxes:
        if any(name[:2] == (code, box) for name in of):
            for scan in scans.scans_in(connection, code, box):
                if (name := (code, box, scan.piece)) in of:
                    of[name].add(scan.digest)
    said = _nitrate_on(connection, sorted({d for some in of.values() for d in some}))
    nitrate = {n: frozenset(k for d in some for k in said.get(d, ())) for n, some in of.items()}
    return Hazards(ruled, nitrate, film)


def nitrate_on(connection: Connection, digests: Iterable[str]) -> frozenset[PartKey]:
    """The parts of these files on which NITRATE was ever read, or was put by a person."""
    return frozenset(k for keys in _nitrate_on(connection, sorted(set(digests))).values() for k in keys)


def box_hazards(
    connection: Connection, stamps: Stamps | None, boxes: Collection[BoxName] | None = None
) -> list[BoxHazards]:
    """Every box of which something is to be said, or those of ``boxes`` alone; by consignment and box."""
    ruled = hazard_rulings(decisions.decisions_of(connection, VERBS))
    here = None if boxes is None else [s for box in sorted(boxes) for s in scans.scans_in(connection, *box)]
    digests = None if here is None or len(here) > _FEW else sorted({s.digest for s in here})
    found: dict[PartKey, list[Finding]] = {}
    if stamps:
        for key, finding in desk.flagged(connection, stamps.stages, ("hazard",), ("classify", "parse"), digests):
            found.setdefault(key, []).append(finding)
    ever = ledger.parts_ever(connection, "classify", _FLAG, digests)
    wanted = scans.scans_of(connection, sorted({k.digest for k in found} | {k.digest for k in ever}))
    for code, box in sorted({n.name[:2] for n in ruled.notes if n.piece}):
        wanted += scans.scans_in(connection, code, box)
    received = {(s.consignment, s.path): s for s in wanted if boxes is None or (s.consignment, s.box) in boxes}.values()
    parts = parts_of(connection, stamps, {s.digest for s in received})
    hazards = hazards_of(connection, received)
    pieces: dict[BoxName, dict[PieceName, PieceHazard]] = {}
    for scan in received:
        several = parts.get(scan.digest) or [None]
        for part in several:
            key = PartKey(scan.digest, part.part if part else 1)
            name = scan.piece if len(several) == 1 else f"{scan.piece}.{key.part}"
            seen = hazards.look(scan, name, key, part.box if part else None, found.get(key, ()))
            _add(pieces, seen)
    for note in ruled.notes:
        if boxes is None or note.name[:2] in boxes:
            there = pieces.setdefault(note.name[:2], {})
            if note.piece and note.name not in there:
                _add(pieces, hazards.unseen(note.name))
    return [
        BoxHazards(box, tuple(of[n] for n in sorted(of)), hazards.notes_on((*box, "")))
        for box, of in sorted(pieces.items())
    ]


def with_hazards(seen: PieceHazard, found: Sequence[Finding], part: int) -> tuple[Hazard, tuple[Finding, ...]]:
    """What is said of one part, and its findings as they stand: a hold that was ruled on is a note of who ruled."""
    kept = [f for f in found if f.code not in HOLDING or seen.on_hold]
    noted = [Finding("hazards", "noted_hazard", "hazard", n.says, part) for n in notes_of(seen)]
    base = by = ""
    if seen.on_hold:
        base = UNCONFIRMED
        if not any(f.code in HOLDING for f in found):
            words = _HELD_BEFORE if seen.held_before else _HELD_BY_NOTE
            kept.insert(0, Finding("hazards", "possible_nitrate", "hazard", words, part))
        if seen.opposed:
            kept.append(Finding("hazards", "clearing_opposed", "attention", _PUT_BACK, part))
    elif seen.clearing:
        base, by = seen.clearing.says, seen.clearing.by
        noted.append(Finding("hazards", "base_ruled", "note", f"base: {base}.", part))
    return Hazard(base, by, codes_of(seen)), (*kept, *noted)


def codes_of(seen: PieceHazard) -> tuple[str, ...]:
    """What can hurt of a piece, as codes, each once."""
    first = [code for code, on in (("possible_nitrate", seen.on_hold), ("glass", seen.glass)) if on]
    return tuple(dict.fromkeys([*first, *(n.code for n in notes_of(seen))]))


def notes_of(seen: PieceHazard) -> list[Note]:
    """What was noted, less that a piece is film where its base was ruled on since."""
    return [n for n in seen.notes if n.code != POSSIBLE_NITRATE or seen.on_hold]


def _add(pieces: dict[BoxName, dict[PieceName, PieceHazard]], seen: PieceHazard) -> None:
    """Bring a part's hazard together with that of the piece's other scans; one of them under hold holds the piece."""
    if not (seen.on_hold or seen.glass or seen.clearing or seen.notes):
        return
    of = pieces.setdefault(seen.name[:2], {})
    had = of.get(seen.name, seen)
    of[seen.name] = PieceHazard(
        seen.name,
        had.on_hold or seen.on_hold,
        had.nitrate_read or seen.nitrate_read,
        had.glass or seen.glass,
        had.opposed or seen.opposed,
        had.clearing or seen.clearing,
        seen.notes,
        had.held_before or seen.held_before,
    )


def parts_of(connection: Connection, stamps: Stamps | None, digests: set[str]) -> dict[str, list[PartFound | None]]:
    """Digest -> the parts of that file; nothing for a file that was not looked at yet or holds no picture."""
    if stamps is None or "check" not in stamps.stages:
        return {}
    rows = ledger.payloads_of(connection, sorted(digests), "check", stamps.stages["check"])
    return {key.digest: list(from_text(Checked, payload).parts) for key, payload in rows}


def _ever_film(connection: Connection, digests: Sequence[str]) -> frozenset[PartKey]:
    """Parts that any look took for film, and part 0 of files that looks divided otherwise: numbers name nothing."""
    film = ledger.parts_ever(connection, "classify", _FLAG, digests)
    named = sorted({k.digest for k in film})
    divided = {k.digest for k in ledger.parts_ever(connection, "classify", "", named, first_part=2)}
    looks: dict[str, set[tuple[Box, ...]]] = {}
    for key, payload in ledger.payloads_of(connection, sorted(divided), "check"):
        looks.setdefault(key.digest, set()).add(tuple(p.box for p in from_text(Checked, payload).parts))
    return frozenset(film | {PartKey(digest, 0) for digest, ways in looks.items() if len(ways) > 1})


def _nitrate_on(connection: Connection, digests: Sequence[str]) -> dict[str, set[PartKey]]:
    said: dict[str, set[PartKey]] = {}
    for key, _ in ledger.payloads_of(connection, digests, "parse", holding='"code":"nitrate_read"'):
        said.setdefault(key.digest, set()).add(key)
    for ruling in standing(decisions.decisions_on_readings(connection, READING_VERBS, digests)):
        if ruling.verb != "reject_reading" and says_nitrate(str(ruling.shown.get("text", ""))):
            said.setdefault(ruling.parts[0].digest, set()).add(ruling.parts[0])
    return said
