"""Folds in words: the pattern of the piece turned upright, beside what its format was issued with."""

from dataclasses import dataclass

from intake.config.formats import Format
from intake.model import Folded, FoldLine

_PARTS = {2: "halves", 3: "thirds", 4: "quarters", 6: "sixths", 8: "eighths", 9: "ninths", 12: "twelfths"}
_PARTS |= {16: "sixteenths"}
NONE_SEEN = "no folds seen"


@dataclass(frozen=True, slots=True)
class FoldView:
    """What the desk says of a piece's folds. ``counts`` (vertical + horizontal) is empty where none was seen.

    ``lines`` are their ends in stored pixels, whether they are printed in, and why.
    """

    words: str
    counts: str
    skew: str
    lines: tuple[FoldLine, ...]


def pattern(folded: Folded, rotation: int) -> str:
    """The pattern with the piece turned upright by ``rotation`` degrees: ``1 + 3 in eighths``; empty where not looked.

    Lines that are printed in are named behind it.
    """
    if not folded.looked:
        return ""
    printed = _counts(folded, rotation, True)
    return _named(_counts(folded, rotation, False)) + (f"; printed in: {_named(printed)}" if any(printed) else "")


def fold_view(folded: Folded, rotation: int) -> FoldView:
    """What is shown of it."""
    counts = _counts(folded, rotation, False)
    skew = "" if folded.skew_deg is None else f"{abs(folded.skew_deg):.2f}°"
    if skew and folded.skew_deg:
        skew += " clockwise" if folded.skew_deg > 0 else " anticlockwise"
    return FoldView(pattern(folded, rotation), _sum(counts) if any(counts) else "", skew, folded.lines)


def issued(view: FoldView | None, form: Format | None) -> str:
    """How the format was issued beside what was seen: a note, never a verdict. Empty where nothing is known."""
    if view is None or not view.words or form is None or not form.folds:
        return ""
    known = form.folds.replace("+", " + ").replace("/", " or ")
    sure = "practice" if form.folds_sure == "practice" else "in doubt"
    seen = f"seen {view.counts}" if view.counts else NONE_SEEN
    return f"{form.name}: issued folded {known} ({sure}), {seen}"


def _counts(folded: Folded, rotation: int, printed: bool) -> tuple[int, int]:
    """Vertical and horizontal lines of the upright piece."""
    wide, high = (sum(line.axis == axis and line.printed == printed for line in folded.lines) for axis in "xy")
    return (high, wide) if rotation % 180 else (wide, high)


def _sum(counts: tuple[int, int]) -> str:
    return f"{counts[0]} + {counts[1]}"


def _named(counts: tuple[int, int]) -> str:
    if not any(counts):
        return NONE_SEEN
    parts = (counts[0] + 1) * (counts[1] + 1)
    return f"{_sum(counts)} in {_PARTS.get(parts, f'{parts} parts')}"
