"""The printers of a consignment, from their accepted credits: one row each, whatever its spellings."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from intake.model import Mark
from intake.ocr.grammar import same_printer
from intake.services.dates import PieceDates


@dataclass(slots=True)
class Printer:
    """One printer in one consignment: how it is spelled, where it is, and what bears its name.

    ``years`` are those of the firm ends of the dates of these pieces: a film's own marks say little of its printers.
    """

    consignment: str
    spellings: Counter[str] = field(default_factory=Counter)
    towns: Counter[str] = field(default_factory=Counter)
    countries: Counter[str] = field(default_factory=Counter)
    pieces: set[tuple[str, str, str]] = field(default_factory=set)
    years: list[int] = field(default_factory=list)

    @property
    def name(self) -> str:
        """The spelling that most bear; of several the longest, since readers lose spaces."""
        return max(self.spellings, key=lambda s: (self.spellings[s], len(s), s))


def printers(dated: Iterable[PieceDates], legal_forms: Sequence[str]) -> list[Printer]:
    """Every printer, by consignment and name. Spellings that differ in spaces or legal form alone are one printer."""
    found: dict[tuple[str, str], Printer] = {}
    for one in dated:
        for mark in one.marks:
            if mark.kind != "printer" or mark.accepted == "no" or not mark.value:
                continue
            name = same_printer(mark.value, legal_forms).replace(" ", "")
            printer = found.setdefault((one.piece[0], name), Printer(one.piece[0]))
            _add(printer, mark, one)
    return sorted(found.values(), key=lambda p: (p.consignment, p.name))


def _add(printer: Printer, mark: Mark, one: PieceDates) -> None:
    printer.spellings[mark.value] += 1
    printer.towns.update([mark.town] if mark.town else [])
    printer.countries.update([mark.country] if mark.country else [])
    if one.piece not in printer.pieces:
        printer.pieces.add(one.piece)
        firm = [b.year for b in (one.dated.not_before, one.dated.certain) if b is not None and b.firm]
        printer.years += firm + [one.dated.until.year for _ in firm if one.dated.until is not None]
