"""Workbook and CSV opened by other programs: LibreOffice without a window, DuckDB, openpyxl. Nothing in them runs."""

import csv
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree as ET

import duckdb
import openpyxl
import pytest

from intake.services import export as export_module
from intake.services.export import as_csv, export
from intake.services.handover.sheets import write_xlsx
from intake.services.handover.writing import export_records
from intake.services.home import Home
from tests.made import AT, SETTINGS
from tests.services.handover.archive import accepted, archive
from tests.services.handover.test_records import HOSTILE
from tests.tools import LIBREOFFICE

FORMULA = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}formula"
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}table"
NAME = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}name"
VALUE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}value-type"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records and the table of marks of an archive whose owner's words are hostile."""
    folder = tmp_path_factory.mktemp("hostile")
    home = Home(folder / "home")
    made = archive(home, folder / "in", HOSTILE)
    accepted(made, "sheet", *(f"text {n}" for n in range(len(HOSTILE))))
    export_records(home, SETTINGS, folder / "out", made_at=AT)
    export(home, SETTINGS, "marks", folder / "out/table-marks.xlsx")
    home.database.close()
    return folder / "out"


def opened(path: Path, folder: Path) -> ET.Element:
    """The file as LibreOffice understands it: its flat XML. Skips the test where there is none."""
    office = LIBREOFFICE.find()
    if office is None:
        pytest.skip(LIBREOFFICE.why_skipped())
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = [str(office), profile, "--headless", "--convert-to", "fods", "--outdir", str(folder), str(path)]
    done = subprocess.run(command, capture_output=True, timeout=180, check=False)
    assert done.returncode == 0, done.stderr.decode()
    return ET.parse(folder / f"{path.stem}.fods").getroot()


def rows(sheet: ET.Element) -> int:
    return sum(1 for row in sheet.iter(f"{TABLE}-row") if "".join(row.itertext()).strip())


def test_libreoffice_opens_the_workbooks_whole_and_finds_no_formula(hostile: Path, tmp_path: Path) -> None:
    book = opened(hostile / "records.xlsx", tmp_path)
    sheets = {s.get(NAME): s for s in book.iter(TABLE)}
    assert {"pieces", "families", "marks", "relations"} <= set(sheets)
    held = openpyxl.load_workbook(hostile / "records.xlsx")
    assert all(rows(sheets[s.title]) == s.max_row for s in held)
    assert not [e for e in book.iter() if FORMULA in e.attrib]
    assert "date" in {e.get(VALUE) for e in sheets["pieces"].iter()}, "real dates"
    words = "".join(book.itertext())
    assert "=1+1" in words and "<script>alert(1)</script>" in words and "\u202e" not in words
    marks = opened(hostile / "table-marks.xlsx", tmp_path)
    truths = {e.get(FORMULA) for e in marks.iter() if FORMULA in e.attrib}
    assert truths <= {"of:=FALSE()", "of:=TRUE()"}, "how LibreOffice writes a cell that is true or false"


def test_libreoffice_opens_the_csv_and_finds_no_formula(hostile: Path, tmp_path: Path) -> None:
    shutil.copy(hostile / "marks.csv", tmp_path / "marks.csv")
    found = opened(tmp_path / "marks.csv", tmp_path)
    assert not [e for e in found.iter() if FORMULA in e.attrib]
    assert "=1+1" in "".join(found.itertext())


@pytest.mark.parametrize("name", ["pieces", "families", "marks", "relations"])
def test_duckdb_reads_the_csv_as_the_csv_module_does(hostile: Path, name: str) -> None:
    path = hostile / f"{name}.csv"
    with path.open(newline="", encoding="utf-8") as file:
        head, *own = csv.reader(file)
    read = duckdb.sql(
        f"select * from read_csv('{path}', header=true, all_varchar=true, null_padding=false, strict_mode=true)"
    )
    assert read.columns == head
    assert sorted([v or "" for v in row] for row in read.fetchall()) == sorted(own)
    guessed = duckdb.sql(f"select * from read_csv('{path}')")
    assert len(guessed.fetchall()) == len(own)
    if name == "marks":
        types = dict(zip(guessed.columns, map(str, guessed.types), strict=True))
        assert types["Left px"] == "BIGINT" and types["Accepted on"] == "DATE"


def test_more_rows_than_a_sheet_holds_go_on_in_another(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert export_module._ROWS_A_SHEET == 1_048_576
    monkeypatch.setattr(export_module, "_ROWS_A_SHEET", 11)
    many = [(n, f"piece {n}") for n in range(25)]
    write_xlsx(tmp_path / "book.xlsx", [("marks", (("number", "piece"), many)), ("none", (("x",), []))], AT)
    (tmp_path / "table.xlsx").write_bytes(export_module._xlsx(("number", "piece"), many))
    for name, sheets in (
        ("book", ["marks", "marks 2", "marks 3", "none"]),
        ("table", ["kinfold", "kinfold 2", "kinfold 3"]),
    ):
        book = openpyxl.load_workbook(tmp_path / f"{name}.xlsx")
        assert book.sheetnames == sheets
        assert [c.value for s in book for c in s["A"][1:]] == list(range(25))
        assert all(s.freeze_panes == "A2" for s in book)
    assert as_csv(("number", "piece"), many).count(b"\n") == 26, "CSV has no bound"
