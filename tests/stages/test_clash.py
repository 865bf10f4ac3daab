"""What speaks against the year that a piece claims. The registers' years are those of config/certificates.csv, whose
rows name their sources (BBFC and MPA registers)."""

from dataclasses import replace

import pytest

from intake.config.certificates import Certificate
from intake.model import Box, Mark
from intake.ocr.dating import when_used
from intake.ocr.grammar import hits_in
from intake.stages.clash import Claim, Looks, claim_of, clashes
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


def test_a_film_s_year_is_given_a_year_s_grace_and_a_release_s_own_year_none() -> None:
    mark = _mark("certificate", "PG", periods=((1982, None),), dates="the film")
    film = replace(CLAIM, value="1981", year=1981)
    release = _mark("release_code", "81/12", year=1981, dates="a release")
    assert clashes(Looks((film, mark)), RULES) == []
    assert [c.rule for c in clashes(Looks((release, mark)), RULES)] == ["certificate"]
    # a sheet that names a later release openly is held against that, not against the film's year
    old, anew = replace(CLAIM, year=1956), _mark("release_code", "R82/7", year=1982, dates="a release")
    assert claim_of([old, anew], RULES) == Claim(1982, 0) and clashes(Looks((old, anew, mark)), RULES) == []


# Verdicts against the year that a sheet itself claims to be printed for: domain notes section 3, "Test rows"; their
# sources are the registers named in config/certificates.csv. b: bad, d: doubtful, o: in order.
ROWS = """
UK X 1949 b, UK X 1951 o, UK H 1955 b, UK AA 1969 b, UK AA 1975 o, UK A 1979 o, UK A 1985 b, UK PG 1981 b, UK 15 1983 o,
UK 12 1988 b, UK 12A 2001 b, US M 1969 o, US M 1973 b, US GP 1971 o, US GP 1975 b, US PG 1969 b, US PG 1971 d,
US PG 1973 o, US PG-13 1983 b, US X 1980 o, US NC-17 1989 b, AU NRC 1986 b, AU R 1970 b, AU G 1975 o, AU MA15+ 1992 b,
FR -13 1995 b, FR -13 1960 d, FR -12 1985 b, FR -16 1975 b, FR -18 1995 b, FR -18 2005 o, IT V.M.14 1960 b,
IT V.M.16 1965 b, DE ab_10 1960 b, DE ab_12 1955 b, ES 13 2012 b, JP PG-12 1995 b, JP R15+ 2005 b, SE 7 1975 b,
DK 15 1990 b, NO 9 2010 b
"""
# Years in which both sides are allowed: never plain.
EDGES = """
UK X 1951, UK A 1970, UK X 1970, UK AA 1970, UK A 1982, UK AA 1982, UK PG 1982, UK 15 1982, US PG-13 1984, AU NRC 1984,
AU PG 1984, FR -13 1990, FR -12 1990, FR -16 1990, US X 1990, US NC-17 1990, JP PG-12 1998, JP PG-12 2009, JP PG12 2009
"""


def _told(country: str, value: str, claimed: int) -> list[str]:
    pattern = next(p for p in SETTINGS.patterns if p.mark == "certificate")
    periods, doubtful = when_used(pattern, {country}, value.replace("_", " "), SETTINGS.certificates)
    assert periods, "no row of the table bears it"
    claim = _mark("release_code", str(claimed), year=claimed, dates="a release")
    mark = _mark("certificate", value, periods=periods, doubtful=doubtful, dates="the film")
    return [c.strength for c in clashes(Looks((claim, mark)), RULES)]


@pytest.mark.parametrize("row", [r.strip() for r in ROWS.replace("\n", " ").split(",")])
def test_the_dated_table_row_by_row(row: str) -> None:
    country, value, claimed, verdict = row.split()
    assert _told(country, value, int(claimed)) == {"b": ["plain"], "d": ["possible"], "o": []}[verdict]


@pytest.mark.parametrize("row", [r.strip() for r in EDGES.replace("\n", " ").split(",")])
def test_the_years_at_the_edge_of_a_stretch_are_never_plain(row: str) -> None:
    country, value, claimed = row.split()
    assert _told(country, value, int(claimed)) in ([], ["possible"])


@pytest.mark.parametrize(
    ("text", "claimed", "strength"),
    [
        ("GCIU LOCAL 214", 1965, ["plain"]),
        ("Graphic Communications International Union", 1982, ["possible"]),  # the notes doubt the union's 1983
        ("GAIU LOCAL 7", 1965, ["plain"]),
        ("LPIU LOCAL 7", 1963, ["plain"]),
        ("LITHOGRAPHERS AND PHOTOENGRAVERS INTERNATIONAL UNION", 1965, []),
        ("AMALGAMATED LITHOGRAPHERS OF AMERICA LOCAL 1", 1950, []),
        ("UNION MADE LITHOGRAPHERS LOCAL 214", 1950, []),  # no name: no years
    ],
)
def test_a_union_s_name_later_than_the_claim(text: str, claimed: int, strength: list[str]) -> None:
    """Names and years: domain notes section 4.2, which give a GCIU mark on a sheet of 1965 as a contradiction."""
    fitting = [p for p in SETTINGS.patterns if p.mark == "union_name"]
    hits = hits_in(text, fitting, SETTINGS.parse)
    assert len(hits) == int("LITHOGRAPHERS LOCAL" not in text)
    for hit in hits:
        assert hit.value.startswith(text.split(" LOCAL")[0].upper())
    hit = hits[0] if hits else next(iter(hits_in(text, SETTINGS.patterns, SETTINGS.parse)))
    periods, doubtful = when_used(hit.pattern, (), hit.value, SETTINGS.certificates)
    mark = _mark(hit.pattern.mark, hit.value, periods=periods, doubtful=doubtful, dates="a print run")
    claim = _mark("release_code", str(claimed), year=claimed, dates="a release")
    told = [c for c in clashes(Looks((claim, mark)), RULES) if c.rule == "union_name"]
    assert [c.strength for c in told] == strength
    assert all("later than" in c.words and c.innocent for c in told)


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
    assert claim_of([replace(CLAIM, accepted="no")], RULES) is None


def test_no_words_say_what_a_piece_is() -> None:
    said = " ".join(f"{r.words} {r.innocent}" for r in RULES.rules.values()).casefold()
    assert not any(word in said for word in ("fake", "forgery", "genuine", "authentic", "original "))


@pytest.mark.parametrize(
    "row", [r for r in SETTINGS.certificates if r.year_from and r.values], ids=lambda r: f"{r.country} {r.label}"
)
def test_every_dated_certificate_clashes_before_its_time_and_not_in_it(row: Certificate) -> None:
    """Row by row of config/certificates.csv."""
    assert row.year_from is not None
    mark = _mark("certificate", row.values[0], periods=((row.year_from, row.year_to),), doubtful=row.doubtful)
    before = replace(CLAIM, value="-", year=row.year_from - 5)
    (told,) = clashes(Looks((before, mark)), RULES)
    assert told.rule == "certificate"
    assert told.strength == "plain"
    within = replace(CLAIM, value="-", year=row.year_from)
    assert clashes(Looks((within, mark)), RULES) == []
