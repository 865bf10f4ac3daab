"""What the morning asks beside the boxes: did the night keep its pace, and does the review end before the catalogue?"""

import math
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from intake.kin import Decision, Verb
from intake.model import WHOLE, PartKey
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named, one_at_a_time
from intake.services.rulings import sides, standing
from intake.store import decisions, desk, facts, families, runs, scans
from intake.store.database import Connection

_DAYS = 7
_FEWEST_RULINGS = 5
_RULED: tuple[Verb, ...] = ("confirm", "join", "same_campaign")


@dataclass(frozen=True, slots=True)
class Outlook:
    """How the review of one consignment stands beside its catalogue date.

    ``left``: pieces in families that wait. ``ruled``: pieces first ruled on in the last days, ``days`` of them. The
    review ends between ``first`` and ``last`` if that goes on; both are None while too little was ruled to tell, and
    ``last`` alone where the pace may as well be nothing. ``day`` is the catalogue date, ``by`` who set it.
    """

    consignment: str
    day: date | None
    by: Decision | None
    left: int
    ruled: int
    days: int
    first: date | None
    last: date | None

    @property
    def words(self) -> str:
        """Does the review end in time?"""
        if not self.left:
            return "No piece waits in a family: the review is at its end."
        if self.first is None:
            return "Too little was ruled in the last days to tell when the review ends."
        span = f"between {_day(self.first)} and {_day(self.last)}" if self.last else f"on {_day(self.first)} or later"
        pace = (
            f"{self.ruled:,} pieces ruled on in {self.days} {'day' if self.days == 1 else 'days'}, {self.left:,} left"
        )
        end = f"At this pace it ends {span} ({pace})."
        if self.day is None:
            return end
        if self.first > self.day:
            return f"{end} That is after the catalogue date."
        if self.last is not None and self.last <= self.day:
            return f"{end} That is in time."
        return f"{end} It may be late."


@dataclass(frozen=True, slots=True)
class Night:
    """The newest run: how many scans it looked at, in how many minutes."""

    scans: int
    minutes: float

    @property
    def words(self) -> str:
        """The night's throughput."""
        rate = f", {self.scans / self.minutes:.1f} a minute" if self.minutes >= 1 and self.scans else ""
        return f"{self.scans:,} {'scan' if self.scans == 1 else 'scans'} looked at in {_span(self.minutes)}{rate}."


def outlooks(home: Home, today: date | None = None) -> list[Outlook]:
    """One for each consignment, by code."""
    today = today or datetime.now(UTC).date()
    with home.database.read() as connection:
        waits = facts.waiting_pieces(connection)
        made = standing(decisions.decisions_of(connection, ("date_catalogue",)))
        ruled = _first_ruled(connection)
        codes = [c.code for c in scans.consignments(connection)]
        known = facts.facts_of(connection, ruled)
        still = families.entries_of(connection, families.codes_of(connection, ruled).values())
        in_queue = families.members_of(connection, [e.family for e in still])
    dates = {str(d.shown.get("consignment", "")): d for d in made}
    left = Counter(waits)
    left.subtract(known[k].consignment for keys in in_queue.values() for k in keys if k in known and k in ruled)
    begin = today - timedelta(days=_DAYS - 1)
    recent: dict[str, list[date]] = {}
    for key, day in ruled.items():
        if key in known and begin <= day <= today:
            recent.setdefault(known[key].consignment, []).append(day)
    return [_outlook(code, dates.get(code), max(0, left[code]), recent.get(code, []), today) for code in codes]


def _outlook(code: str, by: Decision | None, left: int, ruled: list[date], today: date) -> Outlook:
    """The range is that of chance: two standard deviations of a Poisson count each way, on what was ruled."""
    day = date.fromisoformat(str(by.shown["day"])) if by else None
    days = (today - min(ruled)).days + 1 if ruled else 0
    n = len(ruled)
    if n < _FEWEST_RULINGS or not left:
        return Outlook(code, day, by, left, n, days, None, None)
    fast, slow = (n + 2 * math.sqrt(n)) / days, (n - 2 * math.sqrt(n)) / days
    first = today + timedelta(days=min(36_500, math.ceil(left / fast)))
    last = today + timedelta(days=min(36_500, math.ceil(left / slow))) if slow > 0 else None
    return Outlook(code, day, by, left, n, days, first, last)


def _first_ruled(connection: Connection) -> dict[PartKey, date]:
    """Part -> the day on which a standing ruling was first made on where it belongs."""
    parted = standing(decisions.decisions_of(connection, ("part_off", "divide")))
    others = standing(decisions.slim(connection, _RULED))
    said = [(d, sides(d)[0]) for d in parted] + [(d, d.parts) for d in others]
    made: dict[PartKey, date] = {}
    for d, parts in sorted(said, key=lambda one: one[0].id):
        for key in parts:
            made.setdefault(key, date.fromisoformat(d.made_at[:10]))
    return made


def night(home: Home) -> Night | None:
    """What the newest run looked at so far; None before the first one."""
    with home.database.read() as connection:
        last, stamps = runs.last_run(connection), runs.current_stamps(connection)
        if last is None or stamps is None:
            return None
        started, ended, _ = last
        at = [a for a in desk.finished_since(connection, WHOLE, stamps.whole, started) if ended is None or a <= ended]
    end = datetime.fromisoformat(ended) if ended else datetime.fromisoformat(at[-1]) if at else None
    minutes = (end - datetime.fromisoformat(started)).total_seconds() / 60 if end else 0.0
    return Night(len(at), minutes)


def spoken_against(home: Home) -> int:
    """How many families hold a ruling that later evidence speaks against."""
    with home.database.read() as connection:
        return sum('"name":"against"' in w.reasons for w in facts.all_waiting(connection))


def set_catalogue_date(home: Home, who: str, consignment: str, day: str) -> int:
    """Write down when the consignment's catalogue closes; returns the decision's number.

    Raises RulingRefused when there is no such consignment or day.
    """
    who = named(who)
    try:
        when = date.fromisoformat(day)
    except ValueError:
        raise RulingRefused("Give the catalogue date as a day: YYYY-MM-DD.") from None
    with one_at_a_time, home.database.write() as connection:
        if consignment not in {c.code for c in scans.consignments(connection)}:
            raise RulingRefused("There is no such consignment.")
        shown = {"consignment": consignment, "day": when.isoformat(), "of": f"consignment {consignment}"}
        return decisions.add_decision(connection, now(), who, "date_catalogue", (), shown)


def _day(day: date | None) -> str:
    return f"{day.day} {day:%b %Y}" if day else ""


def _span(minutes: float) -> str:
    if minutes < 1:
        return "less than a minute"
    return f"{minutes:.0f} minutes" if minutes < 120 else f"{minutes / 60:.1f} hours"
