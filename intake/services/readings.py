"""What people ruled on readings, laid over the marks that were parsed: a ruling outlives every reading of its place.

A ruling is on a place (half of the two boxes in common) and on kinds of mark there: the kind that was read, and that
which a person made of it. The newest one stands. What it accepts or puts is shown whatever is read there now, also
where nothing is. A rejected value never comes back, nor one spelled nearly so (one letter in five); another value at
that place waits for a person, however well the readers agree.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from intake.kin import Decision, Verb
from intake.model import Box, Mark, ReaderSaid
from intake.ocr.text import edit_distance, squeeze
from intake.services.rulings import standing

VERBS: tuple[Verb, ...] = ("accept_reading", "correct_reading", "reject_reading")
A_PERSON = "a person"
_SAME_PLACE = 0.5
_LETTERS_A_SLIP = 5


@dataclass(frozen=True, slots=True)
class RuledMark:
    """A mark as it stands after the rulings; ``by`` is the decision that rules on it, if any."""

    mark: Mark
    by: Decision | None
    rejected: bool = False

    @property
    def waits(self) -> bool:
        """Is a person asked for it?"""
        return self.mark.accepted == "no" and not self.rejected

    @property
    def seen(self) -> str:
        """Changes whenever anything of it does: a ruling is taken only while what the page showed still holds."""
        return seen_of(self)

    @property
    def read(self) -> str:
        """The value that was read, also where a person put another one; empty where only a person read any."""
        return str(self.by.shown.get("read", self.mark.value)) if self.by else self.mark.value


def ruled_marks(
    marks: Sequence[Mark], decisions: Iterable[Decision], said: Mapping[int, Mark] | None = None
) -> list[RuledMark]:
    """The marks of one part as they stand after ``decisions`` (its own, the oldest first, undoings among them).

    ``said`` holds what rulings say by themselves, by number. Marks come in their order, then those of rulings alone.
    """
    force = _in_force(decisions)
    over = {n: by for n, mark in enumerate(marks) if (by := next((d for d in force if _is_on(d, mark)), None))}
    bearer: dict[int, int] = {}
    for n, by in over.items():
        if by.id not in bearer or _fit(marks[n], by) > _fit(marks[bearer[by.id]], by):
            bearer[by.id] = n
    made = []
    for n, mark in enumerate(marks):
        ruling = over.get(n)
        if ruling is None:
            made.append(RuledMark(mark, None))
        elif ruling.verb == "reject_reading":
            gone = _is_rejected(mark, ruling)
            made.append(RuledMark(replace(mark, accepted="no"), ruling if gone else None, gone))
        elif bearer[ruling.id] == n:
            made.append(RuledMark(_as_ruled(mark, ruling, said or {}), ruling))
    held = [d for d in reversed(force) if d.verb != "reject_reading" and d.id not in bearer]
    return made + [RuledMark(_by_itself(d, said or {}), d) for d in held]


def kinds_of(decision: Decision) -> set[str]:
    """The kinds of mark that a ruling speaks of at its place."""
    kinds = decision.shown.get("kinds")
    return set(map(str, kinds)) if isinstance(kinds, list) else {str(decision.shown.get("kind", ""))}


def ruled_kind(decision: Decision) -> str:
    """The kind that a ruling makes its reading, which may be another one than was read."""
    return str(decision.shown.get("as") or decision.shown.get("kind", ""))


def place_of(decision: Decision) -> Box | None:
    """Where the reading stands that a ruling is on."""
    place = decision.shown.get("place")
    return Box(*place) if isinstance(place, list) and len(place) == 4 else None


def bare_mark(decision: Decision) -> Mark:
    """The mark that a ruling makes by itself, before its text is parsed: nothing but what the person said and saw."""
    shown = decision.shown
    readers = shown.get("readers")
    return Mark(
        kind=ruled_kind(decision),
        text=str(shown.get("line") or shown.get("read") or shown.get("text", "")),
        value=str(shown.get("text", "")),
        year_from=None,
        year_to=None,
        accepted="person",
        confidence=1.0,
        box=place_of(decision) or Box(0, 0, 1, 1),
        readers=tuple(ReaderSaid(*r) for r in readers) if isinstance(readers, list) else (),
        rule=A_PERSON,
    )


def seen_of(value: object) -> str:
    """A short digest of what a page showed."""
    return hashlib.sha256(repr(value).encode("utf-8", "backslashreplace")).hexdigest()[:12]


def is_same_place(a: Box, b: Box) -> bool:
    """Do two boxes hold the same reading?"""
    return overlap(a, b) >= _SAME_PLACE


def overlap(a: Box, b: Box) -> float:
    """Intersection over union of two boxes."""
    width = min(a.left + a.width, b.left + b.width) - max(a.left, b.left)
    height = min(a.top + a.height, b.top + b.height) - max(a.top, b.top)
    both = max(0, width) * max(0, height)
    return both / max(1, a.width * a.height + b.width * b.height - both)


def _in_force(decisions: Iterable[Decision]) -> list[Decision]:
    """The rulings on readings that stand, the newest first; of several on one place and kind the newest alone."""
    kept: list[Decision] = []
    for ruling in reversed([d for d in standing(decisions) if d.verb in VERBS]):
        place = place_of(ruling)
        if place and not any(_is_about(newer, place, kinds_of(ruling)) for newer in kept):
            kept.append(ruling)
    return kept


def _is_on(decision: Decision, mark: Mark) -> bool:
    return _is_about(decision, mark.box, {mark.kind})


def _is_about(decision: Decision, place: Box, kinds: set[str]) -> bool:
    own = place_of(decision)
    return bool(kinds & kinds_of(decision)) and own is not None and is_same_place(own, place)


def _fit(mark: Mark, ruling: Decision) -> tuple[bool, float]:
    return mark.kind == ruled_kind(ruling), overlap(mark.box, place_of(ruling) or mark.box)


def _by_itself(ruling: Decision, said: Mapping[int, Mark]) -> Mark:
    return said.get(ruling.id) or bare_mark(ruling)


def _as_ruled(mark: Mark, ruling: Decision, said: Mapping[int, Mark]) -> Mark:
    """What is read there now, with the ruled value; where that is what is read, the reading's own years are kept."""
    own = _by_itself(ruling, said)
    if mark.kind == own.kind and squeeze(mark.value) == squeeze(own.value):
        return replace(mark, accepted="person", value=own.value)
    return replace(own, text=mark.text, box=mark.box, readers=mark.readers, confidence=mark.confidence)


def _is_rejected(mark: Mark, ruling: Decision) -> bool:
    values = {squeeze(str(ruling.shown[name])) for name in ("text", "read") if ruling.shown.get(name)}
    now = squeeze(mark.value)
    return any(edit_distance(now, value) <= len(value) // _LETTERS_A_SLIP for value in values)
