"""What a text that a person put says: by the rows that parse what is printed."""

import pytest

from intake.config.certificates import load_certificates
from intake.config.parse import ParseRules
from intake.config.patterns import load_patterns
from intake.ocr.said import Said, said_of, same_value
from tests.made import CONFIG, section

PATTERNS = load_patterns(CONFIG)
CERTIFICATES = load_certificates(CONFIG)
RULES = section(ParseRules, CONFIG / "parse.toml")


def said(kind: str, text: str, line: str = "", read: str = "", country: str = "") -> Said | None:
    return said_of(kind, text, line, read, country, PATTERNS, CERTIFICATES, RULES)


@pytest.mark.parametrize("pattern", [p for p in PATTERNS if not p.only_agreed], ids=lambda p: p.name)
def test_every_example_of_every_row_says_something_when_a_person_puts_it(pattern) -> None:  # type: ignore[no-untyped-def]
    for text in pattern.valid:
        found = said(pattern.mark, text, country=pattern.country)
        assert found is not None and found.country == pattern.country, text


def test_a_code_brings_its_year_and_country() -> None:
    found = said("release_code", "61/204")
    assert found is not None
    assert (found.value, found.year_from, found.country, found.rule) == ("61/204", 1961, "US", "us_dist_slash")


def test_a_printers_name_is_one_within_its_line() -> None:
    line = "Printed in England by Marnock Pres5 Ltd."
    found = said("printer", "Marnock Press Ltd", line, "MARNOCK PRES5 LTD")
    assert found is not None and (found.value, found.country) == ("MARNOCK PRESS LTD", "UK")
    assert said("printer", "Marnock Press Ltd") is None


def test_a_label_of_two_countries_is_that_of_the_line() -> None:
    one, other = said("certificate", "PG", country="UK"), said("certificate", "PG", country="US")
    assert one is not None and other is not None and (one.country, other.country) == ("UK", "US")


def test_what_is_put_is_not_cut_to_what_is_known() -> None:
    """A part of it would be a code; the whole is not, and a person has said the whole."""
    assert said("release_code", "61/204 and more", "61/209 Litho in U.S.A.", "61/209") is None


def test_a_letter_taken_for_a_digit_is_not_mended_in_a_persons_text() -> None:
    assert said("release_code", "61/2O4") is None


def test_a_year_of_copyright_needs_no_owner() -> None:
    for text in ("1962", "MCMLXII"):
        found = said("copyright", text, "© 1968 Esroll Pictures", "1968")
        assert found is not None and (found.value, found.year_from) == ("1962", 1962)


@pytest.mark.parametrize("text", ["", "=1+1", "<b>x</b>", "\u202e", "ا" * 300, "61/204" * 50])
def test_odd_texts_say_nothing(text: str) -> None:
    for kind in {p.mark for p in PATTERNS} - {"printer", "copyright", "film_base", "web"}:
        assert said(kind, text, text, text) is None


def test_two_spellings_of_a_printer_are_one_value() -> None:
    one, other = (same_value("printer", v, RULES) for v in ("Marnock Press Ltd.", "MARNOCKPRESS LIMITED"))
    assert one == other
    assert same_value("release_code", "R 61/204", RULES) == same_value("release_code", "r61/204", RULES)
