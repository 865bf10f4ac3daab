"""What the desk shows of readings that wait: equal ones together with their crops, and lines that gave no mark."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from intake.config.load import Config
from intake.kin import Decision
from intake.model import Box, Line, PartKey, Stamps
from intake.ocr.said import same_value
from intake.ocr.text import clean
from intake.services.correcting import line_seen
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.orient import orientations
from intake.services.readings import VERBS, RuledMark, is_same_place
from intake.services.shown import MemberView, member_view
from intake.store import desk, families, pairs, readings, scans
from intake.store.database import Connection
from intake.store.readings import Equal, Waiting


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One reading that waits, and the piece that it stands on, turned so that the reading runs from left to right."""

    member: MemberView
    ruled: RuledMark


@dataclass(frozen=True, slots=True)
class GroupView:
    """Readings of one kind and value: how many wait, and those shown. ``value`` is the most frequent spelling."""

    kind: str
    value: str
    many: int
    readings: tuple[ReadingView, ...]


@dataclass(frozen=True, slots=True)
class LinesView:
    """Lines of a part that gave no mark; ``many`` there are in all.

    Each comes with the part turned so that it runs from left to right, and the digest of what is shown of it.
    """

    member: MemberView
    lines: tuple[tuple[Line, MemberView, str], ...]
    many: int


@dataclass(frozen=True, slots=True)
class Offer:
    """Readings equal to one that was ruled on that wait in its consignment; ``put`` is the text that it was given."""

    consignment: str
    kind: str
    value: str
    many: int
    put: str


def waiting(home: Home) -> int:
    """How many readings wait for a person."""
    with home.database.read() as connection:
        return readings.count_waiting(connection)


def waiting_by_consignment(home: Home) -> dict[str, int]:
    """How many readings wait, for each consignment that has some."""
    with home.database.read() as connection:
        counts = {c.code: readings.count_waiting(connection, c.code) for c in scans.consignments(connection)}
    return {code: many for code, many in counts.items() if many}


def groups(home: Home, code: str, start: int, count: int, crops: int) -> tuple[list[GroupView], int]:
    """Kinds and values that wait in a consignment, the most frequent first, with some of their crops; and how many."""
    with home.database.read() as connection:
        found = readings.equal_waiting(connection, code, start, count)
        rows = [(one, readings.waiting_of(connection, code, one, 0, crops)) for one in found]
        return _views(connection, code, rows), readings.count_equal(connection, code)


def one_group(home: Home, config: Config, code: str, kind: str, value: str, start: int, crops: int) -> GroupView | None:
    """The readings equal to ``value`` that wait in a consignment; None when there are none (any more)."""
    same = same_value(kind, clean(value), config.parse)
    with home.database.read() as connection:
        one = Equal(kind, same, readings.count_equal(connection, code, kind, same))
        rows = readings.waiting_of(connection, code, one, start, crops)
        return next(iter(_views(connection, code, [(one, rows)])), None)


def lines_without_mark(home: Home, key: PartKey, start: int, count: int) -> LinesView | None:
    """The lines that were read on a part and on which no reading stands; None when there is no such part."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        d = dossiers_of(connection, stamps, [key]).get(key) if stamps else None
        if stamps is None or d is None:
            return None
        member = _members(connection, stamps, {key: d})[key]
    left = [
        line
        for line in (d.reading.lines if d.reading else ())
        if not any(is_same_place(r.mark.box, line.box) for r in d.readings)
    ]
    shown = tuple((line, _along(member, d, line.box), line_seen(d, line)) for line in left[start:][:count])
    return LinesView(member, shown, len(left))


def offer(home: Home, config: Config, decision: Decision) -> Offer | None:
    """Readings that read just what this ruling is on, in the same consignment: to be ruled on alike, in one go."""
    kind, read = str(decision.shown.get("kind", "")), str(decision.shown.get("read", ""))
    if decision.verb not in VERBS or not read:
        return None
    with home.database.read() as connection:
        found = scans.scans_of(connection, [decision.parts[0].digest])
        if not found:
            return None
        code = found[0].consignment
        many = readings.count_equal(connection, code, kind, same_value(kind, read, config.parse))
    put = str(decision.shown.get("text", "")) if decision.verb == "correct_reading" else ""
    return Offer(code, kind, read, many, put) if many else None


def _views(connection: Connection, code: str, rows: Iterable[tuple[Equal, Sequence[Waiting]]]) -> list[GroupView]:
    """What still waits of the rows: a run may be at work, and the ledger is what holds."""
    rows = list(rows)
    stamps = desk.shown_stamps(connection)
    if stamps is None:
        return []
    have = dossiers_of(connection, stamps, {w.key for _, some in rows for w in some}, code)
    members = _members(connection, stamps, have)
    made = []
    for one, some in rows:
        shown = [(w, r) for w in some if w.key in have and (r := _now(have[w.key], w)) is not None]
        if shown:
            spelled = Counter(r.mark.value for _, r in shown).most_common(1)[0][0]
            views = tuple(ReadingView(_along(members[w.key], have[w.key], r.mark.box), r) for w, r in shown)
            made.append(GroupView(one.kind, spelled, one.many, views))
    return made


def _now(d: Dossier, row: Waiting) -> RuledMark | None:
    return next((r for r in d.readings if r.waits and r.mark == row.mark), None)


def _members(connection: Connection, stamps: Stamps, have: dict[PartKey, Dossier]) -> dict[PartKey, MemberView]:
    upright = orientations(have, pairs.matches_among(connection, stamps.match, sorted(have)))
    code = families.codes_of(connection, have)
    return {key: member_view(d, upright[key], 0.0, code.get(key, "")) for key, d in have.items()}


def _along(member: MemberView, d: Dossier, box: Box) -> MemberView:
    """The piece turned so that the line in this box runs from left to right, where one was read there."""
    line = next((x for x in (d.reading.lines if d.reading else ()) if x.box == box), None)
    if line is None or member.upright is None:
        return member
    (x0, y0), (x1, y1) = line.corners[:2]
    across, down = (x0 - x1 if member.upright.mirrored else x1 - x0), y1 - y0
    turn = (0 if across > 0 else 180) if abs(across) >= abs(down) else (270 if down > 0 else 90)
    return replace(member, upright=replace(member.upright, turn=turn))
