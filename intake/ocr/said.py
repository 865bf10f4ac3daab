"""What a print code says once it is settled: its years, and what follows from a text that a person put."""

from collections.abc import Sequence
from dataclasses import dataclass

from intake.config.certificates import Certificate
from intake.config.parse import ParseRules
from intake.config.patterns import Pattern
from intake.ocr.dating import Period, hull_of, when_used
from intake.ocr.grammar import Hit, hits_in, same_printer, year_of
from intake.ocr.text import squeeze


@dataclass(frozen=True, slots=True)
class Said:
    """A value, and what the row of config/ that it meets says of it, as in ``Mark``."""

    value: str
    year_from: int | None
    year_to: int | None
    country: str
    dates: str
    rule: str
    year: int | None = None
    periods: tuple[Period, ...] = ()
    doubtful: tuple[int, ...] = ()
    town: str = ""


def settled(hits: Sequence[Hit], certificates: Sequence[Certificate]) -> Said:
    """Return what print codes of one value say, those of several countries where no one is known to be meant."""
    hit, pattern = hits[0], hits[0].pattern
    countries = list(dict.fromkeys(h.pattern.country for h in hits if h.pattern.country))
    periods, doubtful = when_used(pattern, countries, hit.value, certificates)
    year_from, year_to = hull_of(periods)
    if hit.year is not None:
        year_from = max(hit.year, year_from or hit.year)
    country = countries[0] if len(countries) == 1 else ""
    return Said(
        hit.value, year_from, year_to, country, pattern.dates, pattern.name, hit.year, periods, doubtful, hit.town
    )


def same_value(kind: str, value: str, rules: ParseRules) -> str:
    """Return what two spellings of one value have in common; of printers, without their legal form."""
    return squeeze(same_printer(value, rules.legal_forms) if kind == "printer" else value)


def said_of(
    kind: str,
    text: str,
    line: str,
    read: str,
    country: str,
    patterns: Sequence[Pattern],
    certificates: Sequence[Certificate],
    rules: ParseRules,
) -> Said | None:
    """Parse a text that a person put as a mark of ``kind``; None when it is none as far as config/ knows.

    The text alone must be a print code as a whole; else the ``line`` with the value that was ``read`` there replaced by
    the text must hold it, as a printer's name is one only after "printed by". Of rows of several countries that of
    ``country`` goes first. Where on the sheet it stands is the person's business.
    """
    own = [p for p in patterns if p.mark == kind]
    whole = [p.model_copy(update={"within": False}) for p in own]
    hits = _strict(text, whole, rules)
    if not hits and read and (at := line.casefold().find(read.casefold())) >= 0:
        mended = line[:at] + text + line[at + len(read) :]
        hits = [h for h in _strict(mended, own, rules) if kind == "printer" or squeeze(h.value) == squeeze(text)]
    if hits:
        return settled([h for h in hits if h.pattern.country == country] or hits, certificates)
    year = year_of(text) if kind == "copyright" else None
    return None if year is None else Said(str(year), year, None, "", own[0].dates if own else "", "a person", year)


def _strict(text: str, patterns: Sequence[Pattern], rules: ParseRules) -> list[Hit]:
    return [h for h in hits_in(text, patterns, rules) if not h.repaired]
