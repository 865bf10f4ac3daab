"""The sizes in which sheets were issued: config/formats.csv."""

import csv
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, PositiveFloat, ValidationError

from intake.config.section import Section
from intake.errors import ConfigError

_NAMES = {"from": "from_year", "to": "to_year"}


class Format(Section):
    """One row: ``w_mm`` x ``h_mm`` as hung, within ``tol_mm`` on each edge.

    ``orientation``: P upright, L lying, ``sq`` square, ``P or L`` either. ``source`` and ``confidence`` say how sure
    the row is; "memory" and "low" rows are offered but never decide. ``folds``: vertical + horizontal lines that it was
    issued with, ways apart by ``/``, empty where not known; ``folds_sure`` how sure that is.
    """

    id: str
    country: str
    name: str
    w_mm: PositiveFloat
    h_mm: PositiveFloat
    nominal: str
    orientation: Literal["P", "L", "sq", "P or L"]
    from_year: str
    to_year: str
    fold_practice: str
    tol_mm: PositiveFloat
    source: Literal["practice", "memory", "standard"]
    confidence: Literal["high", "medium", "low"]
    folds: Annotated[str, Field(pattern=r"^(\d\+\d(/\d\+\d)*)?$")]
    folds_sure: Literal["practice", "doubt", ""]


def load_formats(folder: Path) -> tuple[Format, ...]:
    """Return the rows of ``formats.csv`` in ``folder``. Raises ConfigError with the line of each row that does not
    parse."""
    path = folder / "formats.csv"
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path}: {error}") from error
    reader = csv.DictReader(text.splitlines(), strict=True)
    rows: list[Format] = []
    problems: list[str] = []
    seen: set[str] = set()
    try:
        for row in reader:
            where = f"{path}: line {reader.line_num}"
            named = {_NAMES.get(key, key): value for key, value in row.items()}
            try:
                one = Format.model_validate(named)
            except (ValidationError, TypeError) as error:
                problems.append(f"{where}: {_short(error)}")
                continue
            wrong = _contradiction(one, seen)
            problems += [f"{where}: {wrong}"] if wrong else []
            seen.add(one.id)
            rows.append(one)
    except csv.Error as error:
        problems.append(f"{path}: line {reader.line_num}: {error}")
    if not rows and not problems:
        problems.append(f"{path}: no formats in it")
    if problems:
        raise ConfigError("\n".join(problems))
    return tuple(rows)


def _contradiction(one: Format, seen: set[str]) -> str:
    if one.id in seen:
        return f"{one.id} stands twice"
    shape = "P" if one.h_mm > one.w_mm else "L" if one.w_mm > one.h_mm else "sq"
    if one.orientation != "P or L" and one.orientation != shape:
        return f"{one.id}: {one.w_mm:g} x {one.h_mm:g} mm is not {one.orientation}"
    return ""


def _short(error: Exception) -> str:
    if isinstance(error, ValidationError):
        return "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in error.errors())
    return "a row has more cells than the head line"
