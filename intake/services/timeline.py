"""The dates of several pieces on one time line: what their accepted marks say, and nothing more."""

from collections.abc import Sequence
from dataclasses import dataclass

from intake.services.dates import DatesView
from intake.stages.dating import Dated

_STEPS = (1, 2, 5, 10, 20, 50, 100)
_MOST_TICKS = 8


@dataclass(frozen=True, slots=True)
class Span:
    """Where one piece lies, as shares (0 to 1) of the line; ``says`` is its date in EDTF.

    ``is_open``: no mark says from when, or until when; the line then runs to its end. ``firm`` is the latest sure year.
    """

    place: str
    says: str
    first: float
    last: float
    is_open: tuple[bool, bool]
    firm: float | None


@dataclass(frozen=True, slots=True)
class TimeLine:
    """``ticks`` are years with their place as a share of the line."""

    ticks: tuple[tuple[int, float], ...]
    spans: tuple[Span, ...]


def time_line(dates: Sequence[DatesView]) -> TimeLine | None:
    """Pieces, and strips pasted on them, in the order given; None where fewer than two are dated."""
    told = [(v.place, v.dated) for v in dates] + [(f"strip on {v.place}", v.strip) for v in dates if v.strip]
    dated = [(place, d) for place, d in told if d.edtf and _years(d)]
    if len(dated) < 2:
        return None
    years = [y for _, d in dated for y in _years(d)]
    step = next((s for s in _STEPS if (max(years) - min(years)) / s <= _MOST_TICKS - 2), _STEPS[-1])
    start, end = (min(years) // step - 1) * step, (max(years) // step + 2) * step

    def at(year: float) -> float:
        return (year - start) / (end - start)

    spans = []
    for place, d in dated:
        first = d.not_before.year if d.not_before else None
        last = d.until.year if d.until else None
        spans.append(
            Span(
                place,
                d.edtf,
                at(first) if first is not None else 0.0,
                at(last + 1) if last is not None else 1.0,  # the whole of the last year
                (first is None, last is None),
                at(d.certain.year) if d.certain else None,
            )
        )
    return TimeLine(tuple((year, at(year)) for year in range(start, end + 1, step)), tuple(spans))


def _years(d: Dated) -> list[int]:
    return [b.year for b in (d.not_before, d.certain, d.until) if b]
