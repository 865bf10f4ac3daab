"""A reproduction copies every mark, so marks that agree support nothing (domain notes section 5): nothing that Kinfold
says of a sheet whose marks are perfect reads as if they did."""

import re
from dataclasses import replace

from intake.config.load import Config
from intake.model import Measured, Parsed
from intake.services import tables, views
from intake.services.clashing import looks_of
from intake.services.dates import piece_dates
from intake.stages.clash import clashes
from intake.stages.dating import CAUTION
from tests.made import SETTINGS, dossier, mark, received
from tests.web.hand import Client, Made

# "The original artwork" is a kind of piece, and comparison points ask what "an original-release printing" shows.
SUPPORTS = re.compile(
    r"genuine|authentic|bona fide|\bfakes?\b|forger|first printing|\bprove[sn]? (?:it|to be|that|an?)\b"
    r"|support(?:s|ed)\b|consistent with|(?:is|be|as|of) an? original\b|of the original release|in order\b",
    re.IGNORECASE,
)
MARKS = (
    mark("56/401", "release_code", year=1956, dates="a release", country="US"),
    mark("COPYRIGHT MCMLVI", "copyright", year=1956, dates="the film or the art", country="US"),
    mark("AMALGAMATED LITHOGRAPHERS OF AMERICA", "union_name", year_from=1915, year_to=1964, dates="this sheet"),
    mark("MARL AND SONS, OSTMERE", "printer"),
)
CAUTIONS = (CAUTION, SETTINGS.points.says.caution)  # that what agrees shows nothing
ONE_SHEET = Measured(685.8, 1041.4, "resolution tag", "us_1sh", "fits", ("us_1sh",))


def _said(words: str) -> str:
    for caution in CAUTIONS:
        words = words.replace(caution, "")
    return words


def test_perfect_marks_are_no_sign_and_their_dates_say_nothing_of_the_printing() -> None:
    d = dossier(
        received("B1/0001.tif"), measured=ONE_SHEET, parsed=Parsed(tuple(replace(m, accepted="person") for m in MARKS))
    )
    assert clashes(looks_of(d, SETTINGS), SETTINGS.clash) == []
    (dated,) = piece_dates([d], (), SETTINGS)
    assert "1956" in dated.dated.words and CAUTION in dated.dated.words
    assert not SUPPORTS.search(_said(dated.dated.words))


def test_no_page_and_no_table_reads_as_if_marks_that_agree_supported_a_piece(made: Made, config: Config) -> None:
    browser, code = Client(made.home, config), views.family_holding(made.home, [made.sheet])
    for address in (f"/families/{code}", f"/closer/{code}", f"/pieces/{made.sheet.digest}-{made.sheet.part}"):
        answer = browser.get(address)
        assert answer.status_code == 200, address
        text = _said(re.sub(r"<[^>]+>", " ", answer.text))
        assert not (found := SUPPORTS.search(text)), (address, text[max(0, found.start() - 80) : found.end() + 40])
    for name in ("scans", "marks", "dates", "families", "findings"):
        for row in tables.table(made.home, config, name)[1]:
            assert not SUPPORTS.search(_said(" ".join(map(str, row)))), (name, row)


def test_the_words_that_are_looked_for_are_found() -> None:
    for words in (
        "a genuine sheet",
        "marks consistent with 1956",
        "this proves it to be the first printing",
        "as an original",
    ):
        assert SUPPORTS.search(words)
    assert not SUPPORTS.search("a point that agrees proves nothing; original artwork")
