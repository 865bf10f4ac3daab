"""What people ruled on readings, laid over the marks that were parsed: a ruling outlives a new reading of its place."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from intake.model import Box, Decision, Mark, PartKey
from intake.services.rulings import standing

VERBS = ("accept_reading", "correct_reading", "reject_reading")
_SAME_PLACE = 0.5


@dataclass(frozen=True, slots=True)
class RuledMark:
    """A mark as it stands after the rulings; ``by`` is the decision that rules on it, if any."""

    mark: Mark
    by: Decision | None
    rejected: bool = False


def ruled_marks(key: PartKey, marks: Sequence[Mark], decisions: Iterable[Decision]) -> list[RuledMark]:
    """The marks of one part with the newest standing ruling on each place and kind."""
    rulings = [d for d in standing(decisions) if d.verb in VERBS and d.parts == (key,)]
    return [_ruled(mark, rulings) for mark in marks]


def _ruled(mark: Mark, rulings: Sequence[Decision]) -> RuledMark:
    by = next((d for d in reversed(rulings) if _is_on(d, mark)), None)
    if by is None:
        return RuledMark(mark, None)
    if by.verb == "reject_reading":
        return RuledMark(replace(mark, accepted="no"), by, rejected=True)
    value = str(by.shown.get("text", mark.value)) if by.verb == "correct_reading" else mark.value
    return RuledMark(replace(mark, accepted="person", value=value), by)


def _is_on(decision: Decision, mark: Mark) -> bool:
    place = decision.shown.get("place")
    if decision.shown.get("kind") != mark.kind or not isinstance(place, list) or len(place) != 4:
        return False
    return overlap(Box(*place), mark.box) >= _SAME_PLACE


def overlap(a: Box, b: Box) -> float:
    """Intersection over union of two boxes."""
    width = min(a.left + a.width, b.left + b.width) - max(a.left, b.left)
    height = min(a.top + a.height, b.top + b.height) - max(a.top, b.top)
    both = max(0, width) * max(0, height)
    return both / max(1, a.width * a.height + b.width * b.height - both)
