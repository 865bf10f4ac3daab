"""Dates of pieces: all scans of a piece together, as people ruled on their marks; printers as they stand on them."""

from typing import Any

import pytest

from intake.kin import Decision
from intake.model import Box, Mark, Parsed, PartKey
from intake.services.dates import DatesView, piece_dates
from intake.services.dossiers import Dossier
from intake.services.printers import printers
from intake.services.readings import ruled_marks
from intake.services.ruled import says
from intake.services.timeline import time_line
from tests.made import AT, SETTINGS, dossier, mark, received

FRONT = received("B1/0001.tif")
BACK = received("B1/0001 v.tif", piece="0001", side="verso")
OTHER = received("B1/0002.tif")
CODE = {"rule": "us_dist_slash", "country": "US", "dates": "a release", "year_to": None}


def bearing(scan: Any, *marks: Mark, decided: tuple[Decision, ...] = ()) -> Dossier:
    """A part with these marks, as the rulings leave them."""
    said = {d.id: says(d, SETTINGS) for d in decided if d.verb != "reject_reading"}
    return dossier(scan, parsed=Parsed(tuple(r.mark for r in ruled_marks(marks, decided, said) if not r.rejected)))


def code(value: str, year: int, **given: Any) -> Mark:
    return mark(value, "release_code", **{**CODE, "year": year, "year_from": year, **given})


def ruling(verb: Any, on: Mark, scan: Any = FRONT, text: str = "") -> Decision:
    shown = {"kind": on.kind, "place": list(on.box), "text": text, "read": on.value, "country": on.country}
    return Decision(1, AT, "Ida", verb, (PartKey(scan.digest, 1),), shown)


def edtf(read: Mark, *decided: Decision) -> str:
    (one,) = piece_dates([bearing(FRONT, read, decided=decided)], set(), SETTINGS)
    return one.dated.edtf


def test_front_and_back_are_one_piece() -> None:
    parts = (bearing(FRONT, code("61/204", 1961)), bearing(BACK, code("63/11", 1963)), bearing(OTHER))
    first, second = piece_dates(parts, set(), SETTINGS)
    assert first.piece == ("C", "B1", "0001") and len(first.scans) == 2
    assert first.dated.not_before is not None and first.dated.not_before.at.key.digest == BACK.digest
    assert [{at.key.digest for at in c.marks} for c in first.dated.contradictions] == [{FRONT.digest, BACK.digest}]
    assert second.dated.edtf == ""


def test_a_corrected_reading_says_its_own_year() -> None:
    read = code("61/204", 1961)
    assert edtf(read) == "1961/1962~"
    assert edtf(read, ruling("correct_reading", read, text="67/204")) == "1967/1968~"
    assert edtf(read, ruling("correct_reading", read, text="none")) == ""
    assert edtf(read, ruling("reject_reading", read)) == ""


@pytest.mark.parametrize(("letter", "dates"), [("AA", "1970~/1982~"), ("PG", "1982~/..")])
def test_a_corrected_certificate_says_its_own_years(letter: str, dates: str) -> None:
    """Periods after config/certificates.csv, where each row names its published source."""
    read = mark(
        "A", "certificate", rule="uk_cert", country="UK", dates="the film", periods=((1912, 1982),), accepted="no"
    )
    assert edtf(read) == ""
    assert edtf(read, ruling("correct_reading", read, text=letter)) == dates


def test_what_is_stated_to_be_pasted_on_dates_itself_alone() -> None:
    parts = (bearing(FRONT, code("61/204", 1961)), bearing(OTHER, code("75/3", 1975)))
    sheet, snipe = piece_dates(parts, {("C", "B1", "0002")}, SETTINGS)
    assert (sheet.dated.edtf, snipe.dated.edtf) == ("1961/1962~", "1975/1976~")
    assert "pasted on" in snipe.dated.words and "pasted on" not in sheet.dated.words


def test_two_spellings_of_one_printer_are_one_row() -> None:
    place = Box(0, 0, 9, 9)
    parts = (
        bearing(FRONT, mark("QUILLBECK & DAVEN LTD", town="LONDON", country="UK"), code("61/204", 1961)),
        bearing(BACK, mark("QUILLBECK&DAVEN LTD.")),
        bearing(OTHER, mark("QUILLBECK AND DAVEN LIMITED", country="UK"), mark("NOBODY", accepted="no", box=place)),
    )
    (one,) = printers(piece_dates(parts, set(), SETTINGS), SETTINGS.parse.legal_forms)
    assert (one.name, len(one.pieces), (min(one.years), max(one.years))) == (
        "QUILLBECK AND DAVEN LIMITED", 2, (1961, 1962),
    )  # fmt: skip
    assert set(one.towns) == {"LONDON"} and set(one.countries) == {"UK"} and len(one.spellings) == 3


def test_pieces_lie_on_one_time_line_and_an_end_that_no_mark_tells_stays_open() -> None:
    marks = (code("61/204", 1961), code("63/11", 1963), mark("PG", "certificate", year_from=1982, year_to=None))
    views = [
        DatesView(f"B1 / {n}", piece_dates([bearing(received(f"B1/{n}.tif"), m)], set(), SETTINGS)[0].dated, {})
        for n, m in enumerate(marks)
    ]
    line = time_line(views)
    assert line is not None and [s.place for s in line.spans] == [v.place for v in views if v.dated.edtf]
    shares = [at for _, at in line.ticks]
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1 and len(line.ticks) <= 10
    at = dict(line.ticks)
    years = sorted(at)

    def year(share: float) -> float:
        return years[0] + share * (years[-1] - years[0])

    for view, span in zip(views, line.spans, strict=False):
        bound, until = view.dated.not_before, view.dated.until
        assert span.says == view.dated.edtf and span.is_open == (bound is None, until is None)
        assert bound is None or year(span.first) == pytest.approx(bound.year)
        assert year(span.last) == pytest.approx(until.year + 1 if until else years[-1])
    assert time_line(views[:1]) is None  # one piece alone has no line to share
