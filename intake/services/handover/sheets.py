"""Records as CSV and XLSX: no cell is a formula, dates are dates, the header stays in sight."""

import csv
import io
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from intake.services.export import harmless, sheets
from intake.services.handover.files import whole_file

Table = tuple[tuple[str, ...], list[tuple[Any, ...]]]


def csv_text(table: Table) -> Iterator[str]:
    """A table as CSV (RFC 4180 with LF), a line at a time; dates as ISO 8601."""
    for row in (table[0], *table[1]):
        out = io.StringIO(newline="")
        csv.writer(out, lineterminator="\n").writerow([_plain(harmless(v)) for v in row])
        yield out.getvalue()


def write_xlsx(path: Path, tables: Iterable[tuple[str, Table]], made_at: str) -> None:
    """All tables as sheets of one workbook. ``made_at`` is the stated time, the only one in it."""
    import xlsxwriter

    options = {
        "constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    }  # fmt: skip
    with whole_file(path) as file, xlsxwriter.Workbook(file, options) as book:
        book.set_properties({"created": datetime.fromisoformat(made_at).replace(tzinfo=None)})
        bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
        for table, (columns, rows) in tables:
            for name, some in sheets(table, rows):
                _fill(book.add_worksheet(name), columns, some, bold, day)


def _fill(sheet: Any, columns: tuple[str, ...], rows: list[tuple[Any, ...]], bold: Any, day: Any) -> None:
    sheet.freeze_panes(1, 0)
    sheet.write_row(0, 0, [harmless(c) for c in columns], bold)
    for number, row in enumerate(rows, start=1):
        for place, value in enumerate(row):
            if isinstance(value, datetime):
                sheet.write_datetime(number, place, value, day)
            elif value not in (None, ""):
                sheet.write(number, place, harmless(value))


def _plain(value: Any) -> Any:
    return value.date().isoformat() if isinstance(value, datetime) else value
