"""Worn places and grades as they stand: what the pixels suggest, and over it what people said with the piece in hand.

Every word is an added row. A place that a person confirmed or put stands whatever a later run suggests; one that was
rejected stays rejected at its place. A grade is a person's, with the name of its scale; none is ever worked out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from intake.kin import Decision, Verb
from intake.model import Box, Condition, Place
from intake.services.rulings import standing

PLACE_VERBS: tuple[Verb, ...] = ("confirm_place", "reject_place", "add_place")
VERBS: tuple[Verb, ...] = (*PLACE_VERBS, "grade")
# Two boxes are one place when they share so much of the smaller: a later run may draw it larger.
_SHARED = 0.5
State = Literal["suggested", "confirmed", "rejected", "put"]


@dataclass(frozen=True, slots=True)
class Examined:
    """How a piece was examined: out of its frame or sleeve or not, both sides or one, in what light."""

    unframed: bool
    both_sides: bool
    light: str

    @property
    def says(self) -> str:
        """In words."""
        frame = "unframed" if self.unframed else "not unframed"
        return f"{frame}, {'both sides' if self.both_sides else 'one side'}, {self.light}"


@dataclass(frozen=True, slots=True)
class RuledPlace:
    """A place as it stands: ``by`` is the newest word on it. ``certainty`` is None where no run suggests it."""

    sort: str
    box: Box
    state: State
    words: str
    certainty: float | None
    by: Decision | None

    @property
    def says(self) -> str:
        """By whom it was ruled on, when, and how it was examined; empty for a mere suggestion."""
        return said_by(self.by) if self.by else ""


@dataclass(frozen=True, slots=True)
class Worn:
    """A part's condition as it stands. ``looked``: the sorts that could be looked for; ``grades``: the newest first."""

    looked: tuple[str, ...] = ()
    places: tuple[RuledPlace, ...] = ()
    grades: tuple[Decision, ...] = ()

    @property
    def standing(self) -> tuple[RuledPlace, ...]:
        """The places less those that were rejected."""
        return tuple(p for p in self.places if p.state != "rejected")


UNWORN = Worn()


def worn(condition: Condition | None, made: Sequence[Decision]) -> Worn:
    """Lay what people said over what was suggested. ``made`` are the decisions on this part, the oldest first."""
    stand = standing(made)
    places = [_suggested(p) for p in condition.places] if condition else []
    for d in stand:
        if d.verb in PLACE_VERBS:
            _lay(places, d)
    grades = tuple(d for d in reversed(stand) if d.verb == "grade")
    return Worn(condition.looked if condition else (), tuple(places), grades)


def place_in(places: Iterable[RuledPlace], sort: str, box: Box) -> RuledPlace | None:
    """The place of this sort there, if there is one."""
    return next((p for p in places if p.sort == sort and is_one_place(p.box, box)), None)


def is_one_place(a: Box, b: Box) -> bool:
    """Do two boxes share half of the smaller?"""
    wide = min(a.left + a.width, b.left + b.width) - max(a.left, b.left)
    high = min(a.top + a.height, b.top + b.height) - max(a.top, b.top)
    return max(0, wide) * max(0, high) >= _SHARED * min(a.width * a.height, b.width * b.height)


def examined_of(decision: Decision) -> Examined:
    """How it was examined, as that was written down."""
    shown = decision.shown
    return Examined(bool(shown.get("unframed")), bool(shown.get("both_sides")), str(shown.get("light", "")))


def said_by(decision: Decision) -> str:
    """By whom, when, and how it was examined."""
    return f"{decision.who}, {decision.made_at[:10]}: {examined_of(decision).says}"


def _suggested(p: Place) -> RuledPlace:
    return RuledPlace(p.sort, p.box, "suggested", p.words, p.certainty, None)


def _lay(places: list[RuledPlace], d: Decision) -> None:
    sort, box = str(d.shown.get("sort", "")), _box(d.shown.get("box"))
    if box is None:
        return
    states: dict[str, State] = {"confirm_place": "confirmed", "reject_place": "rejected", "add_place": "put"}
    known = place_in(places, sort, box)
    words = str(d.shown.get("words", "")) or (known.words if known else "")
    ruled = RuledPlace(sort, known.box if known else box, states[d.verb], words, known.certainty if known else None, d)
    if known is None:
        places.append(ruled)
    else:
        places[places.index(known)] = ruled


def _box(value: Any) -> Box | None:
    is_box = isinstance(value, list) and len(value) == 4 and all(isinstance(v, int) for v in value)
    return Box(*value) if is_box else None
