"""From lines to marks: what is accepted, what is only shown, and what is no mark."""

from dataclasses import replace

import pytest

from intake.config.certificates import load_certificates
from intake.config.parse import ParseRules
from intake.config.patterns import load_patterns
from intake.model import Box, Line, Mark, Parsed, ReaderSaid, Reading
from intake.stages.parse import parse
from tests.made import CONFIG, section

PATTERNS = load_patterns(CONFIG)
CERTIFICATES = load_certificates(CONFIG)
RULES = section(ParseRules, CONFIG / "parse.toml")
PART = Box(0, 0, 2000, 3000)
FOOT = Box(200, 2900, 400, 30)
MIDDLE = Box(800, 1500, 200, 30)


def line(*said: str, box: Box = FOOT, frame: str = "") -> Line:
    """One line as ppocr and tesseract read it (both the same when told once)."""
    texts = said if len(said) > 1 else said * 2
    names = ("ppocr x1", "tesseract", "ppocr x1.3")
    readers = tuple(ReaderSaid(n, t, 0.9) for n, t in zip(names, texts, strict=False))
    drawn = (ReaderSaid("frame", frame, 0.95),) if frame else ()
    right, bottom = float(box.left + box.width), float(box.top + box.height)
    corners = ((float(box.left), float(box.top)), (right, float(box.top)), (right, bottom), (float(box.left), bottom))
    return Line(corners, texts[0], 0.9, len(set(said)) == 1, (*readers, *drawn))


def parsed(*lines: Line, kind: str = "finished_sheet", part: Box = PART) -> Parsed:
    return parse(Reading(lines, 0, False, 1.0), part, kind, PATTERNS, CERTIFICATES, RULES)


def marks(*lines: Line, kind: str = "finished_sheet") -> list[Mark]:
    return list(parsed(*lines, kind=kind).marks)


def said(*lines: Line, kind: str = "finished_sheet") -> list[tuple[str, str, str]]:
    return [(m.kind, m.value, m.accepted) for m in marks(*lines, kind=kind)]


def test_two_engines_that_agree_make_a_mark_that_is_accepted() -> None:
    (mark,) = marks(line("61/204"))
    assert (mark.kind, mark.value, mark.accepted, mark.country) == ("release_code", "61/204", "auto", "US")
    assert (mark.year_from, mark.year_to, mark.dates, mark.rule) == (1961, None, "a release", "us_dist_slash")
    assert mark.box == FOOT and mark.confidence == 1.0


@pytest.mark.parametrize(
    "texts",
    [("61/204", "61/209"), ("61/204", ""), ("61/2O4", "61/2O4"), ("61/204", "61/2O4"), ("61/204", "61/209", "61/204")],
    ids=["they differ", "one is silent", "both repaired", "one repaired", "one engine twice"],
)
def test_without_two_strict_readings_a_person_is_asked(texts: tuple[str, ...]) -> None:
    (mark,) = marks(line(*texts))
    assert (mark.kind, mark.value, mark.accepted) == ("release_code", "61/204", "no")
    assert [r.text for r in mark.readers] == list(texts)


def sure(*said: tuple[str, str, float, float]) -> Line:
    """One line as readers (name, text, confidence, least) read it."""
    return replace(line("x"), text=said[0][1], readers=tuple(ReaderSaid(*s) for s in said))


def test_one_engine_is_enough_where_it_is_sure_of_every_letter_at_two_widths() -> None:
    low, high = RULES.sure_letter - 0.01, RULES.sure_letter
    twice = [("ppocr x1", "61/204", 0.99, high), ("tesseract", "", 0.0, 0.0), ("ppocr x1.3", "61/204", 0.99, high)]
    assert said(sure(*twice)) == [("release_code", "61/204", "auto")]
    assert said(sure(*twice[:2])) == [("release_code", "61/204", "no")]
    assert said(sure(twice[0], ("ppocr x1.3", "61/204", 0.99, low))) == [("release_code", "61/204", "no")]
    assert said(sure(twice[0], ("ppocr x1.3", "61/2O4", 0.99, high))) == [("release_code", "61/204", "no")]


def test_a_reader_that_is_sure_of_another_value_leaves_it_to_a_person() -> None:
    both = (("ppocr x1", "63/122", 0.99, 0.99), ("ppocr x1.3", "63/122", 0.99, 0.99))
    rival = RULES.rival_confidence
    assert said(sure(*both, ("tesseract", "68/122", rival, 0.5))) == [("release_code", "63/122", "no")]
    assert said(sure(*both, ("tesseract", "68/122", rival - 0.01, 0.5))) == [("release_code", "63/122", "auto")]
    year = (("ppocr x1", "MCMXLVII", 0.96, 0.9), ("tesseract", "MCMXLVII", 0.2, 0.1))
    assert said(sure(*year)) == [("copyright", "1947", "auto")]
    assert said(sure(*year, ("ppocr x1.3", "MCMXLVIII", 0.9, 0.9))) == [("copyright", "1948", "no")]


def test_of_two_roman_years_the_one_with_a_stroke_more_is_shown() -> None:
    """Readers drop narrow strokes of MCMLXVIII and add none (measured on own lines, seeds for tuning)."""
    year = (("ppocr x1", "MCMLXIII", 0.96, 0.9), ("tesseract", "MCMLXIII", 0.3, 0.1))
    assert said(sure(*year, ("ppocr x1.3", "MCMLXXIII", 0.7, 0.6))) == [("copyright", "1973", "no")]


def test_a_code_that_reads_upside_down_as_well_is_left_to_a_person() -> None:
    both = (("ppocr x1", "68/108", 0.99, 0.99), ("tesseract", "68/108", 0.9, 0.9))
    assert said(sure(*both, ("turned", "801/89", 0.5, 0.5))) == [("release_code", "68/108", "auto")]
    assert said(sure(*both, ("turned", "60/19", 0.5, 0.5))) == [("release_code", "68/108", "no")]
    same = (("ppocr x1", "61/19", 0.99, 0.5), ("turned", "61/19", 0.99, 0.5))
    assert said(sure(*same)) == [("release_code", "61/19", "no")]


def test_one_printer_in_two_spellings_is_one_value() -> None:
    (mark,) = marks(line("Printed in England by Marnock Press Ltd.", "PRINTED IN ENGLAND BY MARNOCK PRESS LIMITED"))
    assert (mark.kind, mark.accepted, mark.country) == ("printer", "auto", "UK")


def test_spaces_that_one_engine_lost_come_back_from_the_other() -> None:
    (mark,) = marks(line("Printed in England byMarnockPress Ltd.", "Printed in England by Marnock Press Ltd."))
    assert (mark.value, mark.accepted) == ("MARNOCK PRESS LTD", "auto")


def test_a_pencil_note_about_a_certificate_is_no_certificate() -> None:
    assert said(line("A cert. to move?")) == []


def test_the_origin_in_a_printers_line_is_no_mark_of_its_own() -> None:
    assert said(line("Printed in England by Marnock Press Ltd.")) == [("printer", "MARNOCK PRESS LTD", "auto")]
    assert said(line("Printed in England")) == [("origin", "ENGLAND", "auto")]


def test_a_bare_letter_needs_a_frame_or_the_word() -> None:
    assert said(line("X")) == []
    assert said(line("X", frame="circle")) == [("certificate", "X", "auto")]
    assert said(line("CERT. X")) == [("certificate", "X", "auto")]
    assert said(line("RATEDPG-13", "RATED PG-13")) == [("certificate", "PG-13", "auto")]
    assert said(line("BERATED")) == said(line("RATED")) == said(line("RATEDGUESTS")) == []
    beside = line("CERTIFICATE", box=Box(260, 2900, 200, 30))
    assert ("certificate", "X", "auto") in said(line("X", box=Box(205, 2896, 38, 38)), beside)
    far = line("CERTIFICATE", box=Box(1200, 2900, 200, 30))
    assert said(line("X", box=Box(205, 2896, 38, 38)), far) == []


@pytest.mark.parametrize(
    ("beside", "country", "years"),
    [
        ("Printed in England by Marnock Press Ltd.", "UK", (1951, 1982)),
        ("Litho in U.S.A.", "US", (1968, 1990)),
    ],
)
def test_other_marks_tell_whose_certificate_a_shared_letter_is(beside: str, country: str, years: tuple) -> None:
    found = marks(line("X", frame="box"), line(beside, box=Box(900, 2900, 500, 30)))
    (mark,) = [m for m in found if m.kind == "certificate"]
    assert (mark.country, (mark.year_from, mark.year_to)) == (country, years)


@pytest.mark.parametrize("text", ["770166", "MCMLXII", "Revised", "Litho in U.S.A."])
def test_what_could_be_any_text_counts_in_the_margin_alone(text: str) -> None:
    assert len(marks(line(text))) == 1
    assert marks(line(text, box=MIDDLE)) == []


def test_the_margin_is_that_of_the_part_not_of_the_file() -> None:
    part = Box(5000, 4000, 2000, 3000)
    inside = Box(5000 + MIDDLE.left, 4000 + MIDDLE.top, MIDDLE.width, MIDDLE.height)
    at_foot = Box(5000 + FOOT.left, 4000 + FOOT.top, FOOT.width, FOOT.height)
    assert not parsed(line("770166", box=inside), part=part).marks
    assert len(parsed(line("770166", box=at_foot), part=part).marks) == 1


def test_edge_print_is_read_on_film_alone() -> None:
    assert said(line("SAFETY FILM KD 7314"), kind="film_negative") == [("film_base", "SAFETY", "auto")]
    assert said(line("NITRATE"), kind="film_negative") == [("film_base", "NITRATE", "auto")]
    assert said(line("SAFETY FILM KD 7314")) == []


@pytest.mark.parametrize(
    ("text", "kind", "value", "years"),
    [
        ("Depósito legal B. 1234-1972", "deposit", "B. 1234-1972", (1972, None)),
        ("Dépôt légal 3e trimestre 1958", "deposit", "1958", (1958, None)),
        ("Visa de censure N° 24 318", "visa", "24318", (1919, None)),
        ("Copyright MCMLXVIII Larkmoor Productions", "copyright", "1968", (1968, None)),
        ("V.M. 14", "certificate", "V.M.14", (1962, None)),
        ("Interdit aux moins de 18 ans", "certificate", "-18", (1961, None)),
        ("Freigegeben ab 10 Jahren", "certificate", "ab 10", (1951, 1957)),
        ("R63/118", "release_code", "R63/118", (1963, None)),
        ("www.example.com", "web", "www.", (1995, None)),
        ("Job No. 4471", "job", "4471", (None, None)),
    ],
)
def test_values_and_years(text: str, kind: str, value: str, years: tuple[int | None, int | None]) -> None:
    (mark,) = marks(line(text))
    assert (mark.kind, mark.value, (mark.year_from, mark.year_to)) == (kind, value, years)


def test_a_spanish_number_of_a_year_before_the_law_keeps_the_laws_year() -> None:
    (mark,) = marks(line("Depósito legal B. 1234-1949"))
    assert (mark.value, mark.year_from) == ("B. 1234-1949", 1958)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "<script>alert(1)</script>",
        "'; DROP TABLE marks; --",
        "בדפוס תל אביב 1962",
        "\x00\x1b[2J",
        "=1+1",
        "A" * 5000,
    ],
)
def test_hostile_and_foreign_text_is_only_text(text: str) -> None:
    assert marks(line(text)) == []


def test_hundreds_of_marks_are_bounded_and_said() -> None:
    result = parsed(*[line("61/204", box=Box(200, 2900, 60 + i % 7, 20)) for i in range(RULES.most_marks + 30)])
    assert len(result.marks) == RULES.most_marks
    assert [f.code for f in result.findings] == ["too_many_marks"]


def test_the_order_of_readers_changes_nothing() -> None:
    one = line("61/204", "61/204", "61/209")
    other = replace(one, readers=one.readers[::-1])
    assert said(one) == said(other)


def test_a_word_that_a_reader_ran_together_with_the_letter_still_tells_a_certificate() -> None:
    assert said(line("CERT.A")) == [("certificate", "A", "auto")]


def test_a_frame_number_stands_in_the_rebate_and_in_no_drawn_frame() -> None:
    edge, middle = Box(900, 20, 60, 30), Box(900, 1500, 60, 30)
    assert said(line("12A", box=edge), kind="film_negative") == [("film_frame", "12A", "auto")]
    assert said(line("12A", box=middle), kind="film_negative") == []
    assert said(line("12", box=edge, frame="circle"), kind="film_negative") == [("certificate", "12", "auto")]


def test_periods_of_a_certificate_stay_separate() -> None:
    (mark,) = marks(line("Interdit aux moins de 18 ans"))
    assert (mark.periods, mark.year, mark.year_from, mark.year_to) == (((1961, 1990), (2001, None)), None, 1961, None)


def test_a_letter_of_several_countries_counts_in_the_years_of_any_and_names_none() -> None:
    (mark,) = marks(line("PG", frame="box"))
    assert (mark.country, mark.periods, mark.doubtful) == ("", ((1971, None),), (1971,))
    told = marks(line("PG", frame="box"), line("Printed in England", box=Box(900, 2900, 400, 30)))
    assert [(m.country, m.periods) for m in told if m.kind == "certificate"] == [("UK", ((1982, None),))]


def test_the_year_in_a_mark_is_kept_beside_the_years_of_its_scheme() -> None:
    (mark,) = marks(line("Depósito legal B. 1234-1949"))
    assert (mark.year, mark.year_from, mark.periods) == (1949, 1958, ((1958, None),))
    (web,) = marks(line("www.example.com"))
    assert (web.year, web.periods, web.doubtful) == (None, ((1995, None),), (1995,))


def test_a_printers_town_goes_with_it() -> None:
    (mark,) = marks(line("LITHO. BY CARROWAY LITHO CO., DELSTON"))
    assert (mark.kind, mark.value, mark.town, mark.country) == ("printer", "CARROWAY LITHO CO", "DELSTON", "")
    (mark,) = marks(line("LITHO BY QUANDILLA PRESS PTY LTD, MELBOURNE"))
    assert (mark.value, mark.town, mark.country, mark.accepted) == ("QUANDILLA PRESS", "MELBOURNE", "AU", "auto")


@pytest.mark.parametrize("kind", ["film_negative", "film_transparency", "separation", "glass_negative", "unknown"])
def test_nitrate_read_by_any_reader_on_what_may_be_film_is_a_hazard(kind: str) -> None:
    """Wherever it stands and whatever else does: SAFETY beside it takes nothing back (domain notes, 2.3)."""
    for line_read in (
        line("NITRATE 2206", "HI78A7E 2Z06"),
        line("SAFETY FILM N1TRATE"),
        line("xx", "NITRATE", box=Box(400, 700, 200, 30)),
    ):
        found = parsed(line("SAFETY FILM 5063"), line_read, kind=kind).findings
        assert [(f.code, f.severity) for f in found] == [("nitrate_read", "hazard")]
        assert "conservator" in found[0].message
    assert parsed(line("SAFETY FILM 5063"), kind=kind).findings == ()
    assert parsed(line("NITRATE", "NITRATE")).findings == (), "on a printed sheet it is a word like others"
