"""How far each box is, from our own tables. Counts are of pieces; imports nothing heavy, so that it starts at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from intake.kin import Decision
from intake.model import WHOLE, PartKey, Received, Stamps
from intake.services.boxes import RESCAN, balance
from intake.services.hazards import box_hazards
from intake.services.home import Home
from intake.services.pieces_ruled import VERBS as PIECE_VERBS
from intake.services.rulings import sides, standing
from intake.store import decisions, desk, families, ledger, runs, scans
from intake.store.database import Connection

_WINDOW = timedelta(minutes=15)
_MEASURED_FROM = 20


@dataclass(frozen=True, slots=True)
class BoxProgress:
    """One box from listed to reviewed, in pieces. Without a list, what depends on it is None.

    A piece counts for a step when all its scans have taken it; a scan that cannot be looked at has taken them all.
    ``rescan``: pieces of which a scan should be made again. ``in_families``: pieces that stand in a family now.
    ``on_hold``: pieces held as possible nitrate; none says nothing of the rest.
    """

    consignment: str
    box: str
    listed: int | None
    received: int
    missing: int | None
    extra: int | None
    doubled: int | None
    not_scanned: int | None
    held: int
    checked: int
    read: int
    matched: int
    reviewed: int
    in_families: int
    rescan: int
    scans: int
    missing_pieces: tuple[str, ...]
    extra_pieces: tuple[str, ...]
    on_hold: int

    @property
    def adds_up(self) -> bool | None:
        """Does the box agree with its list? None without a list."""
        return None if self.listed is None else not (self.missing or self.extra or self.doubled)


@dataclass(frozen=True, slots=True)
class RunState:
    """The newest run. ``running`` is false for one that was killed before it could say how it ended."""

    started_at: str
    ended_at: str | None
    ending: str | None
    running: bool


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast scans are looked at, over the last 15 minutes, and the minutes that those left will take (low, high).

    The rate and the range are None while fewer than 20 scans were measured; the high end alone where the slowest third
    of the window saw none.
    """

    scans_left: int
    scans_measured: int
    scans_per_minute: float | None
    low_minutes: float | None
    high_minutes: float | None


@dataclass(frozen=True, slots=True)
class Progress:
    """All of it; ``words`` is the run and its pace as one sentence."""

    boxes: tuple[BoxProgress, ...]
    run: RunState | None
    pace: Pace | None
    words: str


def progress(home: Home, code: str | None = None) -> Progress:
    """The progress of one consignment, or of all, in one consistent view."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection)
        run = _run_state(home, connection)
        received = [s for s in scans.all_scans(connection, code) if not s.is_reference]
        by_box: dict[tuple[str, str], list[Received]] = {}
        for s in received:
            by_box.setdefault((s.consignment, s.box), []).append(s)
        steps = _steps(connection, stamps, run)
        ruled = reviewed_digests(_on_pieces(connection))
        in_families = {m.key.digest for f in families.all_families(connection) for m in f.members}
        broken = {
            key.digest
            for key, finding in (desk.flagged(connection, stamps.entries, ("failure", "attention")) if stamps else ())
            if finding.code in RESCAN
        }
        held = {b.name: len(b.held) for b in box_hazards(connection, desk.shown_stamps(connection))}
        boxes = []
        for b in balance(connection, code):
            here = by_box.get((b.consignment, b.box), [])
            checked, read, matched = (_taken(here, step) for step in steps)
            boxes.append(
                BoxProgress(
                    consignment=b.consignment,
                    box=b.box,
                    listed=b.listed,
                    received=b.received,
                    missing=b.missing,
                    extra=b.extra,
                    doubled=b.doubled,
                    not_scanned=b.not_scanned,
                    held=b.held,
                    checked=checked,
                    read=read,
                    matched=matched,
                    reviewed=_touched(here, ruled),
                    in_families=_touched(here, in_families),
                    rescan=_touched(here, broken),
                    scans=len(here),
                    missing_pieces=b.missing_pieces,
                    extra_pieces=b.extra_pieces,
                    on_hold=held.get((b.consignment, b.box), 0),
                )
            )
        pace = _pace(connection, stamps, {s.digest for s in received}, run) if stamps and run else None
    return Progress(tuple(boxes), run, pace, _words(boxes, run, pace))


def _on_pieces(connection: Connection) -> list[Decision]:
    """The decisions by which pieces count as reviewed; what was shown is read of few of them."""
    slim = decisions.slim(connection, ("confirm", "join", "same_campaign", *PIECE_VERBS))
    parted = decisions.decisions_of(connection, ("part_off", "divide"))
    return [d for _, d in sorted({d.id: d for d in (*slim, *parted)}.items())]


def reviewed_digests(made: Iterable[Decision]) -> set[str]:
    """Digests of the parts that a standing decision rules on; of a part taken out, that part alone."""
    reviewed: set[PartKey] = set()
    for decision in standing(made):
        if decision.verb in ("confirm", "join", "same_campaign", *PIECE_VERBS):
            reviewed.update(decision.parts)
        elif decision.verb in ("part_off", "divide"):
            reviewed.update(sides(decision)[0])
    return {key.digest for key in reviewed}


def _steps(connection: Connection, stamps: Stamps | None, run: RunState | None) -> tuple[set[str], set[str], set[str]]:
    """Digests that were checked, read and matched."""
    if stamps is None:
        return set(), set(), set()
    whole = ledger.digests_done(connection, WHOLE, stamps.whole)
    checked = ledger.digests_done(connection, "check", stamps.stages["check"]) | whole
    read = ledger.digests_done(connection, "read", stamps.stages["read"]) | whole
    matched = desk.compared_digests(connection, stamps.match)
    if run and run.ending == "done":
        matched |= whole
    return checked, read, matched


def _taken(here: Iterable[Received], done: set[str]) -> int:
    """Pieces of which every scan is among those done."""
    pieces: dict[str, bool] = {}
    for scan in here:
        pieces[scan.piece] = pieces.get(scan.piece, True) and scan.digest in done
    return sum(pieces.values())


def _touched(here: Iterable[Received], digests: set[str]) -> int:
    """Pieces of which at least one scan is among these."""
    return len({scan.piece for scan in here if scan.digest in digests})


def _run_state(home: Home, connection: Connection) -> RunState | None:
    last = runs.last_run(connection)
    if last is None:
        return None
    started, ended, ending = last
    return RunState(started, ended, ending, ended is None and home.is_held())


def _pace(connection: Connection, stamps: Stamps, digests: set[str], run: RunState) -> Pace:
    left = len(digests - ledger.digests_done(connection, WHOLE, stamps.whole))
    if not run.running:
        return Pace(left, 0, None, None, None)
    now = datetime.now(UTC)
    begin = max(now - _WINDOW, datetime.fromisoformat(run.started_at))
    at = desk.finished_since(connection, WHOLE, stamps.whole, begin.isoformat(timespec="seconds"))
    return pace_of([datetime.fromisoformat(a) for a in at], begin, now, left)


def pace_of(finished: list[datetime], begin: datetime, end: datetime, left: int) -> Pace:
    """Rate over the window, and the minutes for ``left`` scans: from its fastest and slowest third.

    The range is never narrower than two standard deviations of a Poisson count.
    """
    minutes = (end - begin).total_seconds() / 60
    n = len(finished)
    if n < _MEASURED_FROM or minutes <= 0:
        return Pace(left, n, None, None, None)
    thirds = [0, 0, 0]
    for at in finished:
        thirds[min(2, int(3 * (at - begin) / (end - begin)))] += 1
    fastest = max(max(thirds) * 3, n + 2 * n**0.5) / minutes
    slowest = min(min(thirds) * 3, n - 2 * n**0.5) / minutes
    return Pace(left, n, n / minutes, left / fastest, left / slowest if slowest > 0 else None)


def _words(boxes: list[BoxProgress], run: RunState | None, pace: Pace | None) -> str:
    if not boxes:
        return "Nothing received yet. Begin with: kinfold receive FOLDER --consignment CODE"
    if run is None or pace is None:
        return "Not looked at yet. Begin with: kinfold run"
    left = f"{pace.scans_left:,} scans left" if pace.scans_left else "no scans left"
    if run.running:
        return f"A run is at work: {left}; {_estimate(pace)}."
    if run.ended_at is None:
        return f"The last run was cut off: {left}. Continue with: kinfold run"
    if run.ending != "done":
        return f"The last run was stopped: {left}. Continue with: kinfold run"
    return f"The last run is done: {left}." + (" Look at the rest with: kinfold run" if pace.scans_left else "")


def _estimate(pace: Pace) -> str:
    if pace.scans_per_minute is None or pace.low_minutes is None:
        return "measuring"
    rate = f"{pace.scans_per_minute:.1f} scans a minute"
    if not pace.scans_left:
        return f"{rate}; comparing and grouping"
    if pace.high_minutes is None:
        return f"{rate}; {pace.low_minutes:.0f} minutes or more to look at them, then comparing"
    return f"{rate}; {pace.low_minutes:.0f} to {pace.high_minutes:.0f} minutes to look at them, then comparing"
