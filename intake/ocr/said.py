"""What a print code says once it is settled: its years, and what follows from a text that a person put."""

from collections.abc import Sequence
from dataclasses import dataclass

from intake.config.certificates import Certificate
from intake.config.parse import ParseRules
from intake.config.patterns import Pattern
from intake.ocr.dating import Period, years_of
from intake.ocr.grammar import Hit, hits_in, same_printer, year_of
from intake.ocr.text import squeeze


@dataclass(frozen=True, slots=True)
class Said:
    """A value, and what the row of config/ that it meets says of it."""

    value: str
    year_from: int | None
    year_to: int | None
    country: str
    dates: str
    rule: str


def period_of(hit: Hit, certificates: Sequence[Certificate]) -> Period:
    """Return (not before, usual until) of a print code."""
    pattern = hit.pattern
    if pattern.mark == "certificate":
        return years_of(certificates, pattern.country, hit.value)
    if hit.year is None:
        return pattern.year_from, pattern.year_to
    return max(hit.year, pattern.year_from or hit.year), pattern.year_to


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
        hit = next((h for h in hits if h.pattern.country == country), hits[0])
        return Said(hit.value, *period_of(hit, certificates), hit.pattern.country, hit.pattern.dates, hit.pattern.name)
    year = year_of(text) if kind == "copyright" else None
    return None if year is None else Said(str(year), year, None, "", own[0].dates if own else "", "a person")


def _strict(text: str, patterns: Sequence[Pattern], rules: ParseRules) -> list[Hit]:
    return [h for h in hits_in(text, patterns, rules) if not h.repaired]
