"""In which order the pieces of a design were made, as far as they show it: a partial order with its reasons.

Two pieces are put in order only where the reasons suffice and all speak one way; else they are unsure, and what speaks
both ways is shown. The kind of a piece says nothing.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from intake.config.order import OrderRules, Reason
from intake.kin import Differences
from intake.model import FILM_KINDS, Evidence, InkScreen, PartKey


@dataclass(frozen=True, slots=True)
class Made:
    """What of one piece tells of when it was made: its name for words, kind, tone of its print (model.Tone), the years
    that its marks suggest (not before, and whether that is firm; usual until) and the screens that it shows."""

    name: str
    kind: str
    tone: str = ""
    not_before: int | None = None
    firm: bool = False
    until: int | None = None
    screens: tuple[InkScreen, ...] = ()


@dataclass(frozen=True, slots=True)
class Before:
    """Two pieces and what speaks of their order. ``earlier`` was made before ``later`` where ``sure``; else the
    reasons do not suffice, or, where ``contrary`` is not empty, speak both ways."""

    earlier: PartKey
    later: PartKey
    sure: bool
    reasons: tuple[Evidence, ...]
    contrary: tuple[Evidence, ...] = ()


class _Say(Protocol):
    def __call__(self, earlier: PartKey, later: PartKey, reason: Reason, **more: object) -> None: ...


def order(
    made: Mapping[PartKey, Made],
    reports: Iterable[Differences],
    rules: OrderRules,
    photographed: Iterable[tuple[PartKey, PartKey]] = (),
) -> list[Before]:
    """Every pair of ``made`` of which something speaks. What would run in a circle is unsure as a whole.

    ``photographed``: paintings, each with a picture on which its brushwork lies.
    """
    spoken: dict[tuple[PartKey, PartKey], dict[Reason, Evidence]] = {}

    def say(earlier: PartKey, later: PartKey, reason: Reason, **more: object) -> None:
        row = rules.says.get(reason)
        if row is not None and earlier in made and later in made:
            words = row.words.format(earlier=made[earlier].name, later=made[later].name, **more)
            spoken.setdefault((earlier, later), {}).setdefault(reason, Evidence(reason, words, row.weight))

    for report in reports:
        _by_differences(report, say)
        _by_screens(report, made, rules, say)
    for painting, picture in photographed:
        say(painting, picture, "brushwork")
    keys = sorted(made)
    for n, one in enumerate(keys):
        for other in keys[n + 1 :]:
            _by_print(one, other, made, say)
            _by_dates(one, other, made, say)
    found = []
    for one, other in sorted({(min(p), max(p)) for p in spoken}):
        forth, back = (tuple(spoken.get(p, {}).values()) for p in ((one, other), (other, one)))
        weights = sum(e.weight for e in forth), sum(e.weight for e in back)
        earlier, later, says, against = (
            (one, other, forth, back) if weights[0] >= weights[1] else (other, one, back, forth)
        )
        sure = not against and max(weights) >= rules.least
        found.append(Before(earlier, later, sure, says, against))
    return _without_circles(found)


def _by_differences(report: Differences, say: _Say) -> None:
    less: dict[str, bool] = {}
    for region in report.regions:
        on_second = region.words.find("the second") >= 0
        if region.kind in ("covered", "pasted"):
            earlier, later = (report.a, report.b) if on_second else (report.b, report.a)
            say(earlier, later, "covered" if region.kind == "covered" else "pasted")
        elif region.kind == "cropped":
            less = {"first": "the first shows less" in region.words, "second": "the second shows less" in region.words}
    if less and less["first"] != less["second"]:
        earlier, later = (report.a, report.b) if less["second"] else (report.b, report.a)
        say(earlier, later, "cropped")


def _by_print(one: PartKey, other: PartKey, made: Mapping[PartKey, Made], say: _Say) -> None:
    for a, b in ((one, other), (other, one)):
        if made[b].tone == "rescreened" and made[a].tone == "screened":
            say(a, b, "rescreened")
        is_film, is_print = made[b].kind in FILM_KINDS - {"separation"}, made[a].kind not in FILM_KINDS
        if is_film and is_print and made[b].tone == made[a].tone == "screened":
            say(a, b, "from_print")


def _by_screens(report: Differences, made: Mapping[PartKey, Made], rules: OrderRules, say: _Say) -> None:
    """Film that shows the screens of a print at the size that its picture has there was shot from that printing."""
    sides = {report.a: report.seen_a, report.b: report.seen_b}
    for a, b in ((report.a, report.b), (report.b, report.a)):
        one, other, seen, there = made.get(a), made.get(b), sides[a], sides[b]
        if one is None or other is None or seen is None or there is None or one.kind in FILM_KINDS:
            continue
        angles = _angles(other.screens, rules)
        if other.kind not in FILM_KINDS - {"separation"} or angles < rules.print_screens:
            continue
        grown = math.sqrt(there.width * there.height / (seen.width * seen.height))
        rulings = [y.period_px / (x.period_px * grown) for x in one.screens for y in other.screens]
        if any(abs(r - 1) <= rules.same_ruling for r in rulings):
            say(a, b, "of_its_print", screens=angles)


def _angles(screens: Iterable[InkScreen], rules: OrderRules) -> int:
    """How many angles of their own the screens have; rows of dots look alike after a quarter turn."""
    apart: list[float] = []
    for screen in screens:
        away = [abs(screen.angle_deg - other) % 90 for other in apart]
        if all(min(w, 90 - w) >= rules.angle_apart for w in away):
            apart.append(screen.angle_deg)
    return len(apart)


def _by_dates(one: PartKey, other: PartKey, made: Mapping[PartKey, Made], say: _Say) -> None:
    for a, b in ((one, other), (other, one)):
        until, since = made[a].until, made[b].not_before
        if until is not None and since is not None and made[b].firm and until < since:
            say(a, b, "dates", until=until, since=since)


def _without_circles(found: Sequence[Before]) -> list[Before]:
    after: dict[PartKey, set[PartKey]] = {}
    for b in found:
        if b.sure:
            after.setdefault(b.earlier, set()).add(b.later)

    def leads(start: PartKey, goal: PartKey) -> bool:
        todo, seen = [start], {start}
        while todo:
            for following in after.get(todo.pop(), ()):
                if following == goal:
                    return True
                if following not in seen:
                    seen.add(following)
                    todo.append(following)
        return False

    kept = []
    for b in found:
        if b.sure and leads(b.later, b.earlier):
            circle = Evidence("circle", "other pieces of the family speak the other way round", 0.0)
            kept.append(Before(b.earlier, b.later, False, b.reasons, (*b.contrary, circle)))
        else:
            kept.append(b)
    return kept
