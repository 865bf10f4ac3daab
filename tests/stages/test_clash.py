"""What speaks against the year that a piece claims. The registers' years are those of config/certificates.csv, whose
rows name their sources (BBFC and MPA registers)."""

from dataclasses import replace

import pytest

from intake.config.certificates import Certificate
from intake.model import Box, Mark
from intake.stages.clash import Looks, claimed_year, clashes
from tests.made import SETTINGS

RULES = SETTINGS.clash


def _mark(kind: str, value: str, **given: object) -> Mark:
    mark = Mark(kind, value, value, None, None, "auto", 0.95, Box(0, 0, 9, 9), (), "r")
    return replace(mark, **given)  # type: ignore[arg-type]


CLAIM = _mark("copyright", "1956", year=1956, dates="the film or the art")


def test_a_certificate_later_than_claimed_is_named_with_its_innocent_explanation() -> None:
    mark = _mark("certificate", "PG", periods=((1982, None),), dates="the film")
    (told,) = clashes(Looks((CLAIM, mark)), RULES)
    assert (told.rule, told.strength, told.mark) == ("certificate", "plain", mark)
    assert "later than the 1956" in told.words and "re-issue" in told.innocent


def test_a_year_that_sources_differ_on_is_possible_alone() -> None:
    claim = replace(CLAIM, value="1969", year=1969)
    mark = _mark("certificate", "PG", periods=((1971, None),), doubtful=(1971,), dates="the film")
    assert [c.strength for c in clashes(Looks((claim, mark)), RULES)] == ["possible"]


@pytest.mark.parametrize(("claimed", "strength"), [(1956, ["plain"]), (1992, ["possible"]), (1996, [])])
def test_a_web_address(claimed: int, strength: list[str]) -> None:
    claim = replace(CLAIM, value=str(claimed), year=claimed)
    told = clashes(Looks((claim, _mark("web", "www.example.org"))), RULES)
    assert [c.strength for c in told] == strength


def test_a_size_clashes_only_where_every_format_that_fits_is_later() -> None:
    late, early = ("US one sheet (newer)", 1985), ("UK one sheet", 1930)
    assert [c.rule for c in clashes(Looks((CLAIM,), (late,)), RULES)] == ["format"]
    assert clashes(Looks((CLAIM,), (late, early)), RULES) == []


def test_marks_on_a_strip_and_marks_nobody_accepted_speak_against_nothing() -> None:
    mark = _mark("certificate", "PG", periods=((1982, None),))
    assert clashes(Looks((CLAIM, mark), overlay=(mark,)), RULES) == []
    assert clashes(Looks((CLAIM, replace(mark, accepted="no"))), RULES) == []
    assert claimed_year([replace(CLAIM, accepted="no")]) is None


def test_no_words_say_what_a_piece_is() -> None:
    said = " ".join(f"{r.words} {r.innocent}" for r in RULES.rules.values()).casefold()
    assert not any(word in said for word in ("fake", "forgery", "genuine", "authentic", "original "))


@pytest.mark.parametrize(
    "row", [r for r in SETTINGS.certificates if r.year_from and r.values], ids=lambda r: f"{r.country} {r.label}"
)
def test_every_dated_certificate_clashes_before_its_time_and_not_in_it(row: Certificate) -> None:
    """Row by row of config/certificates.csv; years on which sources differ are called possible."""
    assert row.year_from is not None
    mark = _mark("certificate", row.values[0], periods=((row.year_from, row.year_to),), doubtful=row.doubtful)
    before = replace(CLAIM, value="-", year=row.year_from - 5)
    (told,) = clashes(Looks((before, mark)), RULES)
    assert told.rule == "certificate"
    assert told.strength == ("possible" if row.year_from in row.doubtful else "plain")
    within = replace(CLAIM, value="-", year=row.year_from)
    assert clashes(Looks((within, mark)), RULES) == []
