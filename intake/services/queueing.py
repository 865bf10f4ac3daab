"""The queue as a specialist goes through it: by lane, and sieved by what the pieces are; a page of it at a time."""

import json
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.kin import Decision
from intake.services.asking import open_asks
from intake.services.home import Home
from intake.services.shown import QueueItem
from intake.services.taking import Taken, taken_by
from intake.services.views import items_of, queue_order
from intake.services.whose import Whose
from intake.store import facts, families
from intake.store.facts import Waiting

SHOWS = ("", "settled", "aside")
_REASON = re.compile(r'"name":"([a-z_]+)"')  # as the codec writes a reason; its words are escaped there


@dataclass(frozen=True, slots=True)
class Sieve:
    """What is asked for; empty says nothing. ``show``: those that wait, are settled, or were set aside."""

    show: str = ""
    lane: str = ""
    box: str = ""
    kind: str = ""
    format: str = ""
    country: str = ""
    reason: str = ""
    person: str = ""
    year: int | None = None

    @property
    def narrows(self) -> bool:
        """Does it leave anything out but by lane and what is shown?"""
        return any((self.box, self.kind, self.format, self.country, self.reason, self.person, self.year))


@dataclass(frozen=True, slots=True)
class Placed:
    """One family on the page: what it is, its place in the queue, who has it before them, what is asked of whom."""

    item: QueueItem
    place: int
    taken: tuple[Taken, ...]
    asks: tuple[Decision, ...]


@dataclass(frozen=True, slots=True)
class QueuePage:
    """A page of the queue. ``choices`` are what the sieves may say, with how many families each holds."""

    entries: tuple[Placed, ...]
    found: int
    waiting: int
    settled: int
    aside: int
    lanes: tuple[tuple[str, str, int], ...]
    choices: dict[str, list[tuple[str, int]]]


@dataclass(slots=True)
class _Family:
    waiting: Waiting
    place: int
    reasons: set[str]
    asks: list[Decision]
    people: set[str]
    consignments: set[str]
    boxes: set[str]
    kinds: set[str]
    formats: set[str]
    countries: set[str]
    years: list[tuple[int, int]]

    @property
    def show(self) -> str:
        if self.waiting.weight is None:
            return "settled"
        return "aside" if any(d.verb == "set_aside" for d in self.asks) else ""


def queue_page(
    home: Home, config: Config, sieve: Sieve, start: int, count: int, whose: Whose | None = None
) -> QueuePage:
    """The families that pass the sieve and may be shown, the heaviest first, from ``start`` on."""
    taken = taken_by(home)
    with home.database.read() as connection:
        waiting = facts.all_waiting(connection)
        asked = open_asks(connection)
        asks: dict[str, dict[int, Decision]] = {}
        for key, code in families.codes_of(connection, asked).items():
            asks.setdefault(code, {}).update({d.id: d for d in asked[key]})
    everyone = [_family(w, n, asks.get(w.code, {}), taken.get(w.code, ())) for n, w in enumerate(waiting)]
    if whose is not None:
        everyone = [f for f in everyone if whose.may_show_any(f.consignments)]
    shown = [f for f in everyone if f.show == sieve.show]
    rows = config.lanes.lanes
    lanes = [(x.name, x.words, sum(x.holds(f.kinds, f.reasons, f.countries) for f in shown)) for x in rows]
    lane = next((x for x in rows if x.name == sieve.lane), None)
    here = [f for f in shown if lane is None or lane.holds(f.kinds, f.reasons, f.countries)]
    passing = [f for f in here if _passes(f, sieve)]
    page = passing[start : start + count]
    items = {i.code: i for i in items_of(home, config, [f.waiting.code for f in page], whose)}
    entries = [
        Placed(items[f.waiting.code], f.place, tuple(taken.get(f.waiting.code, ())), tuple(f.asks))
        for f in page
        if f.waiting.code in items
    ]
    counts = Counter(f.show for f in everyone)
    return QueuePage(
        tuple(entries), len(passing), counts[""], counts["settled"], counts["aside"], tuple(lanes), _choices(here)
    )


def next_waiting(home: Home, after: str, before: Sequence[str], whose: Whose | None = None) -> str:
    """The family to go on with: of ``before``, the order that the person was in, the first behind ``after``; then the
    first of those that wait now. One that was set aside is passed over; empty when none is left.
    """
    with home.database.read() as connection:
        aside = {key for key, asks in open_asks(connection).items() if any(d.verb == "set_aside" for d in asks)}
        passed = set(families.codes_of(connection, aside).values()) | {after}
    waiting = [c for c in queue_order(home, whose) if c not in passed]
    behind = before[before.index(after) + 1 :] if after in before else []
    return next((c for c in (*behind, *waiting) if c in waiting), "")


def _family(w: Waiting, place: int, asks: dict[int, Decision], taken: Iterable[Taken]) -> _Family:
    sets = json.loads(w.sets)
    people = {str(d.shown.get("to", "")) for d in asks.values() if d.verb == "refer"} | {t.who for t in taken}
    return _Family(
        w,
        place,
        set(_REASON.findall(w.reasons)),
        [asks[n] for n in sorted(asks)],
        people,
        set(sets.get("consignments", ())),
        set(sets.get("boxes", ())),
        set(sets.get("kinds", ())),
        set(sets.get("formats", ())),
        set(sets.get("countries", ())),
        sets.get("years", []),
    )


def _passes(f: _Family, sieve: Sieve) -> bool:
    asked_for = (
        (sieve.box, f.boxes),
        (sieve.kind, f.kinds),
        (sieve.format, f.formats),
        (sieve.country, f.countries),
        (sieve.reason, f.reasons),
        (sieve.person, f.people),
    )
    return all(not wanted or wanted in there for wanted, there in asked_for) and is_of_year(f.years, sieve.year)


def is_of_year(years: Sequence[tuple[int | None, int | None]], year: int | None) -> bool:
    """Does any of these ranges (open where an end is none) hold the year? True where none is asked for."""
    return year is None or any((first or 0) <= year <= (last or 9999) for first, last in years)


def _choices(here: Iterable[_Family]) -> dict[str, list[tuple[str, int]]]:
    counted: dict[str, Counter[str]] = {n: Counter() for n in ("box", "kind", "format", "country", "reason", "person")}
    for f in here:
        sets = (f.boxes, f.kinds, f.formats, f.countries, f.reasons, f.people)
        for name, values in zip(counted, sets, strict=True):
            counted[name].update(values)
    return {name: sorted(found.items()) for name, found in counted.items()}
