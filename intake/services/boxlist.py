"""Read the owner's box list: a CSV file, tolerant of how spreadsheets write it."""

import csv
import io
from pathlib import Path

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
_NO = {"", "no", "n", "0", "false", "-"}
_MOST_BYTES = 50_000_000


def read_box_list(path: Path) -> list[Listed]:
    """The lines of the list. UTF-8 (with or without mark) or Windows-1252; comma, semicolon or tab.

    Raises UsageError naming the file, the line and what is wrong.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise UsageError(f"{path}: the box list cannot be read ({error.strerror}).") from error
    if len(raw) > _MOST_BYTES:
        raise UsageError(f"{path}: the box list is larger than {_MOST_BYTES // 1_000_000} MB.")
    text = _decoded(raw)
    head = text.split("\n", 1)[0]
    delimiter = max(";,\t", key=head.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    names = [n.strip().lower() for n in next(rows, [])]
    at = {ours: next((names.index(w) for w in words if w in names), None) for ours, words in _COLUMNS.items()}
    if at["box"] is None or at["piece"] is None:
        raise UsageError(f"{path}: the first line must name the columns box and piece; it says: {head.strip()[:200]}")

    def cell(row: list[str], name: str) -> str:
        place = at[name]
        return row[place].strip() if place is not None and place < len(row) else ""

    lines: list[Listed] = []
    try:
        for row in rows:
            if not any(c.strip() for c in row):
                continue
            box, piece = cell(row, "box"), cell(row, "piece")
            if not box or not piece:
                raise UsageError(f"{path}, line {rows.line_num}: a box and a piece are needed.")
            sides = cell(row, "sides") or "1"
            if sides not in {"1", "2"}:
                raise UsageError(f"{path}, line {rows.line_num}: sides expected is 1 or 2, not {sides[:40]!r}.")
            held = cell(row, "held").lower()
            why = cell(row, "why") or (held if held not in _NO | {"yes", "y", "1", "true"} else "")
            lines.append(
                Listed(box, _piece(piece), cell(row, "description"), int(sides), held not in _NO or bool(why), why)
            )
    except csv.Error as error:
        raise UsageError(f"{path}, line {rows.line_num}: {error}.") from error
    return lines


def _piece(text: str) -> str:
    """Piece numbers as file names give them: digits are filled up to four."""
    return text.lstrip("0").rjust(4, "0") if text.isdigit() else text


def _decoded(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace")
