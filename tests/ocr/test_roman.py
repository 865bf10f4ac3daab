"""Roman years against the reference library ``roman`` (PyPI)."""

import pytest
import roman

from intake.ocr.roman import has_roman_year, roman_value


def test_every_year_of_the_trade_reads_as_the_reference_library_writes_it() -> None:
    assert all(roman_value(roman.toRoman(year)) == year for year in range(1900, 2031))


@pytest.mark.parametrize("slip", "IVXLCDM")
def test_a_letter_taken_for_another_is_only_read_where_the_library_reads_it_too(slip: str) -> None:
    for year in range(1900, 2031):
        numeral = roman.toRoman(year)
        for at in range(len(numeral)):
            changed = numeral[:at] + slip + numeral[at + 1 :]
            try:
                expected = roman.fromRoman(changed)
            except roman.InvalidRomanNumeralError:
                expected = None
            assert roman_value(changed) == expected


@pytest.mark.parametrize("text", ["", "MCMLIXX", "MDCCCCLIX", "IIMM", "MCML1X", "mcmlix", "N"])
def test_what_is_not_strict_is_not_read(text: str) -> None:
    assert roman_value(text) is None


def test_every_year_of_the_trade_has_the_look_of_a_year_and_words_have_not() -> None:
    assert all(has_roman_year(f"© {roman.toRoman(year)} Larkmoor") for year in range(1900, 2031) if year != 2000)
    assert has_roman_year("MCMLIXX") and not has_roman_year("CINEMA COMMUNITY")
    assert not has_roman_year("61/204") and not has_roman_year("ADMIX") and not has_roman_year("")
