"""Which certificate a country used in which years: rows of config/certificates.csv."""

import csv
import re
from pathlib import Path

from pydantic import ValidationError, field_validator

from intake.config.section import Section
from intake.errors import ConfigError

_YEAR = re.compile(r"\d{4}")
_VAGUE = re.compile(r"\d{4}s|^by ")


class Certificate(Section):
    """One label of one country. ``values`` are the mark values that bear it; a year is None where it is not sure.

    ``year_from`` is the first year that is possible at all, doubtful ones included. Rows from memory or one weak source
    keep no years: they may never rule a date out. ``doubtful`` are the years in which sources do not agree that it was
    in use: between a first year that one source gives and the next one's, or one of its two years where that is vague.
    """

    country: str
    label: str
    values: tuple[str, ...]
    year_from: int | None
    year_to: int | None
    doubtful: tuple[int, ...]
    in_use: bool
    note: str
    source: str
    trust: str

    @field_validator("trust")
    @classmethod
    def _known_trust(cls, value: str) -> str:
        if value not in {"high", "medium", "low"}:
            raise ValueError("confidence must be high, medium or low")
        return value


def load_certificates(folder: Path) -> tuple[Certificate, ...]:
    """Read ``folder``/certificates.csv. Raises ConfigError with one line for each bad row."""
    path = folder / "certificates.csv"
    made: list[Certificate] = []
    problems: list[str] = []
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file, strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ConfigError(f"{path}: {error}") from error
    for number, row in enumerate(rows, start=2):
        try:
            made.append(_certificate(row))
        except (KeyError, TypeError, AttributeError):
            problems.append(f"{path} line {number}: it has not the columns of the first line")
        except (ValidationError, ValueError) as error:
            problems.append(f"{path} line {number}: {error}")
    if not made:
        problems.append(f"{path}: no rows")
    if problems:
        raise ConfigError("\n".join(problems))
    return tuple(made)


def _certificate(row: dict[str, str]) -> Certificate:
    sure = row["confidence"] != "low"
    year_from, year_to = _year(row["doubtful_from"] or row["from"]), _year(row["to"])
    sure_from = _year(row["from"])
    between = range(year_from, sure_from) if row["doubtful_from"] and year_from and sure_from else ()
    vague = ((year_from, row["from"].startswith("c")), (year_to, row["to"].startswith("c")))
    unsure = {y for y, is_vague in vague if y and (is_vague or row["confidence"] == "medium")}
    return Certificate(
        country=row["country"],
        label=row["label"],
        values=tuple(v.strip() for v in row["values"].split("|") if v.strip()),
        year_from=year_from if sure else None,
        year_to=year_to if sure else None,
        doubtful=tuple(sorted(unsure.union(between))) if sure else (),
        in_use=not row["to"].strip(),
        note=row["meaning_or_note"],
        source=row["source"],
        trust=row["confidence"],
    )


def _year(cell: str) -> int | None:
    """Return the first year of a cell; a decade ("1950s") or "by 1945" is no bound."""
    if not cell.strip() or _VAGUE.search(cell):
        return None
    found = _YEAR.search(cell)
    if found is None:
        raise ValueError(f"{cell!r} holds no year")
    return int(found.group())
