"""Read the owner's box list: a CSV file, tolerant of how spreadsheets write it."""

import codecs
import csv
import io
import unicodedata
from pathlib import Path
from typing import Any

from intake.config.receive import piece_number
from intake.errors import UsageError
from intake.model import Listed

# Words that heads of columns bear; the first is ours. Common practice.
_COLUMNS = {
    "box": ("box", "box no", "box number", "box no."),
    "piece": ("piece", "no", "number", "piece no", "piece number", "item"),
    "description": ("description", "what", "title"),
    "sides": ("sides", "sides expected", "sides_expected"),
    "held": ("held", "not scanned", "not_scanned"),
    "why": ("why", "reason"),
}
_YES, _NO = {"yes", "y", "1", "true", "x"}, {"no", "n", "0", "false"}
_MOST_BYTES = 50_000_000


def read_box_list(path: Path) -> list[Listed]:
    """The lines of the list. UTF-8 (with or without mark), UTF-16 or Windows-1252; comma, semicolon or tab.

    Raises UsageError naming the file, the line and what is wrong.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise UsageError(f"{path}: the box list cannot be read ({error.strerror}).") from error
    if len(raw) > _MOST_BYTES:
        raise UsageError(f"{path}: the box list is larger than {_MOST_BYTES // 1_000_000} MB.")
    text = _decoded(raw)
    if "\0" in text:
        raise UsageError(f"{path}: is no text. Save the box list as CSV.")
    head = text.split("\n", 1)[0]
    # Strict, because a quote that is never closed would swallow the lines after it.
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=max(";,\t", key=head.count), strict=True)
    try:
        return _lines(path, rows, head)
    except csv.Error as error:
        raise UsageError(f"{path}, line {rows.line_num}: {error}.") from error


def _lines(path: Path, rows: Any, head: str) -> list[Listed]:
    names = [n.strip().lower() for n in next(rows, [])]
    at = {ours: next((names.index(w) for w in words if w in names), None) for ours, words in _COLUMNS.items()}
    if at["box"] is None or at["piece"] is None:
        raise UsageError(f"{path}: the first line must name the columns box and piece; it says: {head.strip()[:200]}")

    def cell(row: list[str], name: str) -> str:
        place = at[name]
        return row[place].strip() if place is not None and place < len(row) else ""

    lines: list[Listed] = []
    for row in rows:
        if not any(c.strip() for c in row):
            continue
        box, piece = unicodedata.normalize("NFC", cell(row, "box")), piece_number(cell(row, "piece"))
        if not box or not piece:
            raise UsageError(f"{path}, line {rows.line_num}: a box and a piece are needed.")
        sides = cell(row, "sides") or "1"
        if sides not in {"1", "2"}:
            raise UsageError(f"{path}, line {rows.line_num}: sides expected is 1 or 2, not {sides[:40]!r}.")
        held, why = cell(row, "held").strip("-").lower(), cell(row, "why")
        if held not in _YES | _NO:
            why = why or cell(row, "held").strip("-")  # the reason itself stands in the column
        kept_back = held not in _NO and bool(held or why)
        lines.append(Listed(box, piece, cell(row, "description"), int(sides), kept_back, why))
    return lines


def _decoded(raw: bytes) -> str:
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return raw.decode("utf-16", "replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace")
