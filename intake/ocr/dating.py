"""From a mark to the years in which such marks were used: its row of config/, or certificates that bear its value."""

from collections.abc import Collection, Sequence

from intake.config.certificates import Certificate
from intake.config.patterns import Pattern

Period = tuple[int | None, int | None]


def when_used(
    pattern: Pattern, countries: Collection[str], value: str, certificates: Sequence[Certificate]
) -> tuple[tuple[Period, ...], tuple[int, ...]]:
    """Return the separate periods in which such a mark was in use, and those of their years that are in doubt.

    A letter that the boards of several ``countries`` gave counts in the years of any of them.
    """
    if pattern.mark == "certificate":
        doubtful = sorted(doubtful_years(certificates, countries, value))
        return tuple(periods_of(certificates, countries, value)), tuple(doubtful)
    years = (pattern.year_from, pattern.year_to)
    known = tuple(y for y in years if y is not None)
    return ((years,) if known else ()), (known if pattern.doubtful else ())


def periods_of(certificates: Sequence[Certificate], countries: Collection[str], value: str) -> list[Period]:
    """Return the separate periods in which the mark was used in any of the countries, in order.

    A bound that is open or not sure is None.
    """
    rows = _rows(certificates, countries, value)
    spans = sorted(((r.year_from, r.year_to) for r in rows), key=lambda s: (s[0] is not None, s[0] or 0))
    joined: list[Period] = []
    for start, end in spans:
        before = joined[-1] if joined else (None, None)
        if before != (None, None) and start is not None and (before[1] is None or start <= before[1] + 1):
            joined[-1] = (before[0], None if before[1] is None or end is None else max(end, before[1]))
        else:
            joined.append((start, end))
    return joined


def hull_of(periods: Sequence[Period]) -> Period:
    """Return (not before, usual until) of all periods: of several separate ones the first year alone."""
    if not periods:
        return None, None
    return periods[0] if len(periods) == 1 else (periods[0][0], None)


def doubtful_years(certificates: Sequence[Certificate], countries: Collection[str], value: str) -> frozenset[int]:
    """Return the first and last years of the mark's periods that sources do not agree on."""
    return frozenset(y for row in _rows(certificates, countries, value) for y in row.doubtful)


def _rows(certificates: Sequence[Certificate], countries: Collection[str], value: str) -> list[Certificate]:
    wanted = value.casefold()
    return [c for c in certificates if c.country in countries and wanted in (v.casefold() for v in c.values)]
