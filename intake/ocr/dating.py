"""From a certificate to years: rows of config/certificates.csv that bear a country and a value."""

from collections.abc import Sequence

from intake.config.certificates import Certificate

Period = tuple[int | None, int | None]


def periods_of(certificates: Sequence[Certificate], country: str, value: str) -> list[Period]:
    """Return the separate periods in which the mark was used, in order; None where a bound is open or not sure."""
    wanted = value.casefold()
    rows = [c for c in certificates if c.country == country and wanted in (v.casefold() for v in c.values)]
    spans = sorted(((r.year_from, r.year_to) for r in rows), key=lambda s: (s[0] is not None, s[0] or 0))
    joined: list[Period] = []
    for start, end in spans:
        if joined and start is not None and joined[-1][1] is not None and start <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def years_of(certificates: Sequence[Certificate], country: str, value: str) -> Period:
    """Return (not before, usual until): of several separate periods the first year alone."""
    periods = periods_of(certificates, country, value)
    if not periods:
        return None, None
    return periods[0] if len(periods) == 1 else (periods[0][0], None)
