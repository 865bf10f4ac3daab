"""Exports: nothing in a cell is a formula, the same ledger gives the same bytes, and refusals are in words."""

import csv
import io
import json
import multiprocessing
import os
import resource
import unicodedata
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.errors import HomeError, UsageError
from intake.model import Parsed, Reading
from intake.services.export import export, harmless
from intake.services.home import Home
from intake.services.tables import TABLES, table
from tests.made import SETTINGS, Written, classified, mark, received
from tests.nobody import as_nobody, shared_folder

BEGIN_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
HOSTILE = [
    "=1+1", "+1", "-1+2", "@SUM(A1)", "=HYPERLINK(\"http://example.org\",\"x\")", "=cmd|' /C calc'!A0", "\t=1", "\r=1",
    "\n=1", "{=1+1}", "\uff1d1+1", "http://example.org/a", "mailto:a@example.org", "internal:Sheet!A1", "0001", "1e5",
    "TRUE", "plain", "a,b;c\td", "two\nlines", 'quo"te', "'already", "<script>alert(1)</script>", "\u202egnp.fit",
    "\x1b[31mred", "nul\x00", "\x85", "\ufffe", "x" * 40_000, "\u05e9\u05dc\u05d5\u05dd", "\U0001f39e\ufe0f",
    "no\u00a0break", "\u3000wide", "e\u0301", "_x000D_", "&amp;", " ", "",
]  # fmt: skip


@pytest.fixture
def hostile(home: Home) -> Home:
    """A home in which all that comes from outside is hostile: names, box, readings."""
    written = Written(home)
    scans = [
        received(
            f"=B1/{n}{text[:50].replace('/', ':').replace(chr(0), '')}.tif", piece=text.replace("\0", "") or "empty"
        )
        for n, text in enumerate(HOSTILE)
    ]
    written.consignment(*scans)
    written.run()
    for scan, text in zip(scans, HOSTILE, strict=True):
        written.looked(scan, [classified(), Reading((), 0, False, 0.0), Parsed((mark(text),))])
    return home


def exported(home: Home, name: str, to: Path) -> bytes:
    export(home, SETTINGS, name, to)
    return to.read_bytes()


def test_csv_reads_back_and_no_cell_begins_a_formula(hostile: Home, tmp_path: Path) -> None:
    for name in TABLES:
        raw = exported(hostile, name, tmp_path / "out.csv")
        read = list(csv.reader(io.StringIO(raw.decode("utf-8"), newline="")))
        columns, expected = table(hostile, SETTINGS, name)
        assert tuple(read[0]) == columns
        assert len(read) == len(expected) + 1
        for line in read[1:]:
            assert len(line) == len(columns)
            for column, cell in zip(columns, line, strict=True):
                number = column in ("rotation", "scale")
                assert not cell.startswith(
                    ("=", "+", "@", "\t", "\r", "\n") if number else ("=", "+", "-", "@", "\t", "\r", "\n")
                )
                assert not set(cell) & set("\x00\x1b\x85\u202e\ufffe")
    texts = [
        line[3] for line in csv.reader(io.StringIO(exported(hostile, "marks", tmp_path / "m.csv").decode(), newline=""))
    ]
    for text in (
        "plain",
        "0001",
        "a,b;c\td",
        "two\nlines",
        'quo"te',
        "no\u00a0break",
        "\u3000wide",
        "e\u0301",
        "'=1+1",
    ):
        assert text in texts


def test_xlsx_holds_text_and_numbers_and_no_formula_or_link(hostile: Home, tmp_path: Path) -> None:
    for name in TABLES:
        export(hostile, SETTINGS, name, tmp_path / "out.xlsx")
        sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["kinfold"]
        cells = [cell for line in sheet.iter_rows() for cell in line]
        assert {cell.data_type for cell in cells} <= {"s", "n", "b"}, "a formula (f) or an error (e)"
        assert all(cell.hyperlink is None for cell in cells)
        columns, expected = table(hostile, SETTINGS, name)
        assert [cell.value for cell in sheet[1]] == list(columns)
        assert sheet.max_row == len(expected) + 1
    numbers = openpyxl.load_workbook(tmp_path / "out.xlsx")["kinfold"]
    assert numbers["D2"].data_type == "n"  # received, in the table of boxes


def test_json_holds_the_values_themselves(hostile: Home, tmp_path: Path) -> None:
    for name in TABLES:
        columns, expected = table(hostile, SETTINGS, name)
        held = json.loads(exported(hostile, name, tmp_path / "out.json"))
        assert held == [dict(zip(columns, row, strict=True)) for row in expected]


@pytest.mark.parametrize("ending", [".csv", ".json"])
def test_the_same_ledger_gives_the_same_bytes(hostile: Home, tmp_path: Path, ending: str) -> None:
    for name in TABLES:
        first = exported(hostile, name, tmp_path / f"first{ending}")
        again = Home(hostile.folder)
        assert exported(again, name, tmp_path / f"again{ending}") == first
        again.database.close()


def test_an_empty_table_has_its_columns(home: Home, tmp_path: Path) -> None:
    assert export(home, SETTINGS, "boxes", tmp_path / "b.csv") == 0
    assert (tmp_path / "b.csv").read_text() == ",".join(TABLES["boxes"][0]) + "\n"
    assert json.loads(exported(home, "boxes", tmp_path / "b.json")) == []
    export(home, SETTINGS, "boxes", tmp_path / "b.XLSX")
    assert openpyxl.load_workbook(tmp_path / "b.XLSX")["kinfold"].max_row == 1


def test_truth_and_nothing_are_written_the_same_way_everywhere(hostile: Home, tmp_path: Path) -> None:
    (line, *_) = csv.DictReader(io.StringIO(exported(hostile, "scans", tmp_path / "s.csv").decode(), newline=""))
    assert (line["mirrored"], line["width_mm"], line["rotation"]) == ("false", "", "0")


@given(value=st.one_of(st.text(max_size=30), st.integers(), st.floats(allow_nan=False), st.booleans(), st.none()))
def test_cells_are_harmless_and_numbers_stay_numbers(value: Any) -> None:
    made = harmless(value)
    if not isinstance(value, str):
        assert made is value
        return
    # Also for a program that makes the wide and small signs plain ones before it looks.
    assert not unicodedata.normalize("NFKC", made[:1]).startswith(BEGIN_A_FORMULA)
    assert harmless(made) == made
    if value.isprintable() and not unicodedata.normalize("NFKC", value[:1]).startswith(BEGIN_A_FORMULA):
        assert made == value


def test_unknown_tables_and_endings(home: Home, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no such table"):
        export(home, SETTINGS, "nothing", tmp_path / "x.csv")
    for name in ("x.pdf", "x", "csv", ".csv"):
        with pytest.raises(UsageError, match=r"\.csv, \.json, \.xlsx"):
            export(home, SETTINGS, "scans", tmp_path / name)
    assert not (tmp_path / "x.csv").exists()


def test_places_that_cannot_be_written(home: Home, tmp_path: Path) -> None:
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "file").write_text("x")
    for name in ("folder.csv", "file/below.csv", "n" * 300 + ".csv"):
        with pytest.raises(HomeError, match="cannot be written"):
            export(home, SETTINGS, "scans", tmp_path / name)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "folder.csv", "home"]


def test_a_place_that_may_not_be_written() -> None:
    def act() -> None:
        home = Home(place / "open" / "home")
        with pytest.raises(HomeError, match=r"x\.csv: cannot be written"):
            export(home, SETTINGS, "scans", place / "x.csv")
        home.database.close()

    with shared_folder() as place:
        (place / "open").mkdir()
        (place / "open").chmod(0o777)
        as_nobody(act)


def _export_on_a_full_disk(folder: Path, to: Path) -> None:
    home = Home(folder)
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, most))
    try:
        export(home, SETTINGS, "marks", to)
    except HomeError as error:
        os._exit(0 if "cannot be written" in str(error) else 1)
    os._exit(2)


def test_a_full_disk_leaves_the_file_of_before(hostile: Home, tmp_path: Path) -> None:
    to = tmp_path / "out.csv"
    to.write_text("the export of yesterday")
    child = multiprocessing.get_context("fork").Process(target=_export_on_a_full_disk, args=(hostile.folder, to))
    child.start()
    child.join(60)
    assert child.exitcode == 0
    assert to.read_text() == "the export of yesterday"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["home", "out.csv"]
