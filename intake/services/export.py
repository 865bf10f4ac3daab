"""Write a table to a file: CSV, JSON or XLSX by its ending. Nothing in a cell can become a formula.

What was read leaves as ALTO as well: a folder of files, one a scan.
"""

import csv
import io
import json
import unicodedata
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

from intake.config.load import Config
from intake.errors import HomeError, UsageError
from intake.model import Stamps
from intake.services.alto import alto_files
from intake.services.dossiers import dossiers
from intake.services.home import Home, write_whole
from intake.services.tables import table
from intake.store import runs

ALTO = "alto"

# What a spreadsheet may take for the beginning of a formula: OWASP ASVS 5, 1.2.10. The line feed, and the wide and
# small forms of the four signs (which NFKC folds): common practice.
_FORMULA = ("=", "+", "-", "@", "\t", "\n")
_TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_LONGEST_CELL = 32_000
_ROWS_A_SHEET = 1_048_576  # with its head: spreadsheets open no more, and XlsxWriter writes no more; the rest goes on


def export(home: Home, config: Config, name: str, to: Path, with_documents: bool = True) -> int:
    """Write table ``name``; returns its number of rows. Of "alto" ``to`` is a folder; returns the number of files.

    ``with_documents``: of "alto" papers found in boxes too, whose text is people's letters; the tables hold all pieces.
    Raises UsageError for an unknown table or ending, HomeError when the file cannot be written. A crash leaves the old
    file or the new one, never half of one.
    """
    if name == ALTO:
        return _export_alto(home, to, () if with_documents else config.records.private_kinds)
    writers = {".csv": as_csv, ".json": _json, ".xlsx": _xlsx}
    writer = writers.get(to.suffix.lower())
    if writer is None:
        raise UsageError(f"{to}: the ending must be one of {', '.join(writers)}.")
    columns, rows = table(home, config, name)
    try:
        write_whole(to, writer(columns, rows))
    except OSError as error:
        raise HomeError(f"{to}: cannot be written ({error.strerror}).") from error
    return len(rows)


def _export_alto(home: Home, to: Path, left_out: Collection[str]) -> int:
    count = 0
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        known = dossiers(connection, stamps)
    private = {(d.scan.consignment, d.scan.box, d.piece) for d in known if d.kind in left_out}
    known = [d for d in known if (d.scan.consignment, d.scan.box, d.piece) not in private]
    try:
        to.mkdir(parents=True, exist_ok=True)
        for name, document in alto_files(known, stamps.stages.get("read", "")):
            write_whole(to / name, document)
            count += 1
    except OSError as error:
        raise HomeError(f"{to}: cannot be written ({error.strerror}). Give a folder.") from error
    return count


def sheets(name: str, rows: list[tuple[Any, ...]]) -> Iterator[tuple[str, list[tuple[Any, ...]]]]:
    """The rows of a table as sheets of a workbook: one, or as many as it takes."""
    most = _ROWS_A_SHEET - 1
    for number, start in enumerate(range(0, max(1, len(rows)), most), start=1):
        yield (name if number == 1 else f"{name} {number}"), rows[start : start + most]


def harmless(value: Any) -> Any:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it; numbers stay numbers."""
    if isinstance(value, str):
        shown = value if value.isprintable() else "".join(c if _is_shown(c) else "\ufffd" for c in value)
        text = shown[:_LONGEST_CELL]
        return f"'{text}" if unicodedata.normalize("NFKC", text[:1]).startswith(_FORMULA) else text
    return value


def _is_shown(character: str) -> bool:
    """Controls are not, nor is what turns the order of writing: a name could look like another. Odd spaces stay."""
    if character.isprintable() or character in "\n\t":
        return True
    return unicodedata.category(character) in ("Zs", "Cf") and character not in _TURNING


def as_csv(columns: tuple[str, ...], rows: list[tuple[Any, ...]]) -> bytes:
    """CSV in UTF-8 with a line of names (RFC 4180, lines ended by a line feed); no cell can become a formula."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_plain(harmless(v)) for v in row] for row in rows)
    return out.getvalue().encode()


def _plain(value: Any) -> Any:
    return {None: "", True: "true", False: "false"}[value] if value is None or isinstance(value, bool) else value


def _json(columns: tuple[str, ...], rows: list[tuple[Any, ...]]) -> bytes:
    made = [dict(zip(columns, row, strict=True)) for row in rows]
    return (json.dumps(made, ensure_ascii=False, indent=1) + "\n").encode()


def _xlsx(columns: tuple[str, ...], rows: list[tuple[Any, ...]]) -> bytes:
    import xlsxwriter

    out = io.BytesIO()
    options = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "in_memory": True}
    with xlsxwriter.Workbook(out, options) as book:
        bold = book.add_format({"bold": True})
        for name, some in sheets("kinfold", rows):
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, columns, bold)
            for number, row in enumerate(some, start=1):
                sheet.write_row(number, 0, [harmless(v) for v in row])
    return out.getvalue()
