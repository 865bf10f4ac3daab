"""The owner's box list, as spreadsheets and people write it."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.errors import UsageError
from intake.model import Listed
from intake.services.boxlist import read_box_list

PLAIN = "box,piece,description,sides expected,held,why\nB01,0001,A sheet,2,,\nB01,0002,Zürich film,1,yes,framed\n"
EXPECTED = [Listed("B01", "0001", "A sheet", 2), Listed("B01", "0002", "Zürich film", 1, True, "framed")]


def read(tmp_path: Path, content: str | bytes) -> list[Listed]:
    path = tmp_path / "list.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_box_list(path)


@pytest.mark.parametrize(
    "content",
    [
        PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.encode("utf-8-sig"),
        PLAIN.replace(",", ";").encode("cp1252"),
        PLAIN.replace(",", "\t").encode("utf-16"),  # a spreadsheet's "Unicode text"
        PLAIN.replace("box,piece", " Box No. ,PIECE NUMBER"),
        PLAIN.replace("B01,0001", "B01,1").replace("B01,0002", " B01 , 02 "),
        PLAIN + "\n,,,,,\n  \n",
        "piece;why;box;held;remarks;description;sides\n1;;B01;-;nice;A sheet;2\n2;framed;B01;;;Zürich film;\n",
        PLAIN.replace("A sheet", '"A sheet"'),
    ],
    ids=[
        "plain", "crlf", "semicolons", "tabs", "mark", "cp1252", "utf-16", "other heads", "short numbers",
        "blank lines", "other order", "quotes",
    ],
)  # fmt: skip
def test_every_dialect_says_the_same(tmp_path: Path, content: str | bytes) -> None:
    assert read(tmp_path, content) == EXPECTED


def test_only_box_and_piece_are_needed(tmp_path: Path) -> None:
    assert read(tmp_path, "box,piece\nB01,17\nB02,Ж-4\n") == [Listed("B01", "0017"), Listed("B02", "Ж-4")]
    assert read(tmp_path, "box,piece\n") == []


def test_a_quoted_cell_may_hold_lines_delimiters_and_quotes(tmp_path: Path) -> None:
    found = read(tmp_path, 'box,piece,description\nB01,1,"two\nlines, ""quoted"""\nB01,2,last\n')
    assert [x.description for x in found] == ['two\nlines, "quoted"', "last"]


@pytest.mark.parametrize(
    ("held", "why", "expected"),
    [
        ("", "", (False, "")),
        ("no", "", (False, "")),
        ("-", "", (False, "")),
        ("yes", "", (True, "")),
        ("x", "stuck", (True, "stuck")),
        ("", "out with a restorer", (True, "out with a restorer")),
        ("oversize", "", (True, "oversize")),
        ("Hazard", "", (True, "Hazard")),
        ("no", "was framed, is out now", (False, "was framed, is out now")),
    ],
)
def test_held_pieces_and_their_reasons(tmp_path: Path, held: str, why: str, expected: tuple[bool, str]) -> None:
    (line,) = read(tmp_path, f'box,piece,held,why\nB01,1,{held},"{why}"\n')
    assert (line.held, line.why) == expected


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "must name the columns box and piece"),
        ("carton,number\nB01,1\n", "must name the columns box and piece; it says: carton,number"),
        ("box,piece\nB01,1\n,2\n", r"list\.csv, line 3: a box and a piece"),
        ("box,piece\nB01,1\nB01\n", "line 3: a box and a piece"),
        ('box,piece,description\nB01,1,"two\nlines"\nB01,,x\n', "line 4: a box and a piece"),
        ("box,piece,sides\nB01,1,both\n", "line 2: sides expected is 1 or 2, not 'both'"),
        ("box,piece,sides\nB01,1,3\n", "line 2: sides expected"),
        # A quote that is never closed would swallow all that follows.
        ('box,piece,description\nB01,1,"open\nB01,2,\nB01,3,\n', "line 4: unexpected end"),
        (b"PK\x03\x04\x00\x00\x08\x00 an xlsx file", "is no text"),
        ("box,piece\nB01," + "9" * 200_000 + "\n", "line 2: field larger"),
    ],
)
def test_what_cannot_be_read_is_named_with_file_and_line(tmp_path: Path, content: str | bytes, words: str) -> None:
    with pytest.raises(UsageError, match=words) as caught:
        read(tmp_path, content)
    assert str(tmp_path / "list.csv") in str(caught.value)


def test_a_list_that_is_not_there_or_has_no_end(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be read"):
        read_box_list(tmp_path / "none.csv")
    with pytest.raises(UsageError, match="cannot be read"):
        read_box_list(tmp_path)
    with pytest.raises(UsageError, match="larger than"):
        read_box_list(Path("/dev/zero"))


TEXTS = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12).map(str.strip).filter(bool)


@given(rows=st.lists(st.tuples(TEXTS, TEXTS, TEXTS), max_size=6), delimiter=st.sampled_from(",;\t"))
def test_what_a_spreadsheet_wrote_comes_back(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, str, str]], delimiter: str
) -> None:
    from unicodedata import normalize

    from intake.config.receive import piece_number

    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerows([("box", "piece", "description"), *rows])
    found = read(tmp_path_factory.getbasetemp(), out.getvalue())
    assert [(x.box, x.piece, x.description) for x in found] == [
        (normalize("NFC", b), piece_number(p), d) for b, p, d in rows
    ]
