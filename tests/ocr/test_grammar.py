"""Print codes in one reading of a line."""

import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.config.parse import ParseRules
from intake.config.patterns import load_patterns, normalise
from intake.ocr.grammar import hits_in, same_printer, year_of
from tests.made import CONFIG, section

PATTERNS = load_patterns(CONFIG)
RULES = section(ParseRules, CONFIG / "parse.toml")


def values(text: str) -> dict[str, str]:
    return {hit.pattern.name: hit.value for hit in hits_in(text, PATTERNS, RULES)}


@pytest.mark.parametrize("pattern", PATTERNS, ids=lambda p: p.name)
def test_each_example_is_met_and_says_something(pattern) -> None:
    for text in pattern.valid:
        assert values(text).get(pattern.name), text


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("61/204", "us_dist_slash", "61/204"),
        ("R 63/118", "us_dist_slash", "R63/118"),
        ("PrintedinEnglandbyQuillbeck&DavenLtd.,London", "uk_imprint", "QUILLBECK & DAVENLTD"),
        ("Printed in England by Oxter Lithographic Co. Ltd,London W.1", "uk_imprint", "OXTER LITHOGRAPHIC CO. LTD"),
        ("PR1NTED IN ENGIAND BY MARNOCK PRESS LTD.", "uk_imprint", "MARNOCK PRESS LTD"),
        ("Litho in U.S.A.", "origin_mark", "USA"),
        ("Litho in U. S. A.", "origin_mark", "USA"),
        ("Printed in Great Britain", "origin_mark", "GREAT BRITAIN"),
        ("Visa de censure N° 24 318", "fr_visa", "24318"),
        ("Depósito legal B. 1234-1972", "es_dl", "B. 1234-1972"),
        ("Dépôt légal 3e trimestre 1958", "fr_depot", "1958"),
        ("© MCMLXVIII Larkmoor Pictures", "us_copyright", "1968"),
        ("©1964 Larkmoor Pictures Inc.", "us_copyright", "1964"),
        ("Freigegeben ab 16 Jahren", "de_fsk", "ab 16"),
        ("V.M.18", "it_vm", "V.M.18"),
        ("INTERDIT AUX MOINS DE13ANS", "fr_age", "-13"),
        ('STYLE"B"', "us_style", "B"),
        ("JOB NO.4471", "job_no", "4471"),
        ("DEPOT LEGAL ler TRIMESTRE 1957", "fr_depot", "1957"),
        ("@1968Ravelgate Pictures", "us_copyright", "1968"),
        ("C1968 Ravelgate Pictures Inc.", "us_copyright", "1968"),
        ("©1968Ravelgate", "us_copyright", "1968"),
        ("PR1NTED BY JARRAHDENE LITHO PTY. LTD. SYDNEY", "au_printer", "JARRAHDENE LITHO"),
        ("PRINTEDBYWATTLEFORD PRINTPTY.LTD.SYDNEY", "au_printer", "WATTLEFORD PRINT"),
        ("PRINTED BY MORWICK AND HALE LIMITED", "plain_imprint", "MORWICK AND HALE LIMITED"),
        ("LITHO BYCARROWAY LITHO CO., DELSTON", "plain_imprint", "CARROWAY LITHO CO"),
        ("UNIONMADELITHOGRAPHERSLOCAL214", "union_label", "LITHOGRAPHERS LOCAL 214"),
        ("Lit. Ostrani, Milano 1962", "it_imprint", "OSTRANI"),
        ("Imp. Brisalva, Madrid", "es_imprint", "BRISALVA"),
    ],
)
def test_values_are_written_one_way(text: str, name: str, value: str) -> None:
    assert values(text)[name] == value


@pytest.mark.parametrize(
    ("text", "town", "year"),
    [
        ("Printed in England by Quillbeck & Daven Ltd., London", "LONDON", None),
        ("LITHOGRAPHED BY HENNICK BROS., PORT ARLEY, N.Y.", "PORT ARLEY, N.Y.", None),
        ("Druck: Kastenholm GmbH, Hamburg", "HAMBURG", None),
        ("Imp. Verrol, Paris", "PARIS", None),
        ("Tip. Brandelli - Roma 3-1958", "ROMA", 1958),
        ("LITHO BY QUANDILLA PRESS PTY LTD, MELBOURNE", "MELBOURNE", None),
        ("Printed by Tessaly Press", "", None),
    ],
)
def test_a_printers_line_yields_town_and_year(text: str, town: str, year: int | None) -> None:
    printers = [h for h in hits_in(text, PATTERNS, RULES) if h.pattern.mark == "printer"]
    assert {(h.town, h.year) for h in printers if h.pattern.country or len(printers) == 1} == {(town, year)}


@pytest.mark.parametrize(
    "text",
    ["SHRIMP. X, Y", "A GRAPHIC TALE - ROMA", "SPLIT. THE BOND - ROMA", "PRINTED BY HAND", "O 1961", "LOCAL HERO"],
)
def test_words_that_hold_a_phrase_by_chance_are_no_mark(text: str) -> None:
    assert values(text) == {}


def test_a_code_is_found_inside_a_longer_line() -> None:
    assert values("Harbinel Film Corp. 61/204 Litho in U.S.A.")["us_dist_slash"] == "61/204"


@pytest.mark.parametrize("text", ["6I/2O4", "61/2O4", "6l/204"])
def test_letters_taken_for_digits_are_marked_as_repaired(text: str) -> None:
    (hit,) = [h for h in hits_in(text, PATTERNS, RULES) if h.pattern.name == "us_dist_slash"]
    assert (hit.value, hit.repaired) == ("61/204", True)


@pytest.mark.parametrize("text", ["MCMLXVIIII", "MDCCCCLIX", "MIX", "X", "1868"])
def test_no_year_is_guessed_from_a_broken_or_odd_numeral(text: str) -> None:
    assert "roman_year" not in values(text)


@pytest.mark.parametrize(
    ("text", "year"),
    [("1962", 1962), ("62", 1962), ("00", 2000), ("MCMLXII", 1962), ("1", None), ("9999", None), ("²²", None)],
)
def test_years(text: str, year: int | None) -> None:
    assert year_of(text) == year


def test_two_spellings_of_one_printer_meet() -> None:
    assert same_printer("QUILLBECK & DAVEN LTD", RULES.legal_forms) == same_printer(
        "Quillbeck and Daven Limited", RULES.legal_forms
    )
    assert same_printer("Solvène SA", RULES.legal_forms) == "SOLVENE"
    assert same_printer("LTD", RULES.legal_forms) == "LTD"


@settings(deadline=None, max_examples=150)
@given(st.text(max_size=500))
def test_no_text_breaks_it(text: str) -> None:
    hits_in(text, PATTERNS, RULES)


@pytest.mark.parametrize(
    "text",
    [
        "1/" * 200,
        "A " * 200,
        "Printed in England by " * 20,
        "M" * 400,
        "(c) 1968 " + "A" * 400,
        "IMP. " + "-" * 300,
        "a.com@" * 60,
        "N" * 399 + "\n",
    ],
)
def test_hostile_text_costs_under_a_second(text: str) -> None:
    started = time.process_time()
    hits_in(text, PATTERNS, RULES)
    assert time.process_time() - started < 1.0


def test_patterns_mind_neither_spaces_nor_composition() -> None:
    assert normalise("De\u0301po\u0302t   légal\u00a01962") == "Dépôt légal 1962"
    assert Path(CONFIG / "patterns.toml").is_file()
