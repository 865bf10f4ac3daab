"""Certificates against the years in which they were used.

The rows are worked verdicts from the published sources named in config/patterns.toml (BFI and board pages, statutes).
Doubtful ones need only be possible.
"""

from pathlib import Path

import pytest

from intake.config.certificates import load_certificates
from intake.ocr.dating import doubtful_years, hull_of, periods_of

ROWS = load_certificates(Path(__file__).resolve().parents[2] / "config")

VERDICTS = """
UK X 1949 bad; UK X 1951 ok; UK H 1955 bad; UK AA 1969 bad; UK AA 1975 ok; UK A 1979 ok; UK A 1985 bad; UK PG
1981 bad; UK 15 1983 ok; UK 12 1988 bad; UK 12A 2001 bad; US M 1969 ok; US M 1973 bad; US GP 1971 ok; US GP
1975 bad; US PG 1969 bad; US PG 1971 doubtful; US PG 1973 ok; US PG-13 1983 bad; US X 1980 ok; US NC-17 1989
bad; AU NRC 1986 bad; AU R 1970 bad; AU G 1975 ok; AU MA15+ 1992 bad; FR -13 1995 bad; FR -13 1960 doubtful;
FR -12 1985 bad; FR -16 1975 bad; FR -18 1995 bad; FR -18 2005 ok; IT V.M.14 1960 bad; IT V.M.16 1965 bad; DE
ab_10 1960 bad; DE ab_12 1955 bad; ES 13 2012 bad; JP PG-12 1995 bad; JP R15+ 2005 bad; SE 7 1975 bad; DK 15
1990 bad; NO 9 2010 bad
"""


@pytest.mark.parametrize("verdict", [v.strip() for v in VERDICTS.split(";")])
def test_a_year_is_possible_only_within_a_period(verdict: str) -> None:
    country, value, year, expected = verdict.split()
    periods = periods_of(ROWS, [country], value.replace("_", " "))
    assert periods
    possible = any((a is None or a <= int(year)) and (b is None or int(year) <= b) for a, b in periods)
    assert possible == (expected != "bad")


def test_adjacent_periods_are_one_and_separate_ones_keep_the_first_year_alone() -> None:
    assert hull_of(periods_of(ROWS, ["UK"], "A")) == (1912, 1982)
    assert periods_of(ROWS, ["FR"], "-18") == [(1961, 1990), (2001, None)]
    assert hull_of(periods_of(ROWS, ["FR"], "-18")) == (1961, None)
    assert hull_of([]) == (None, None)


def test_rows_from_memory_bound_nothing_and_unknown_labels_say_nothing() -> None:
    assert periods_of(ROWS, ["AU"], "SOA") == [(None, None)]
    assert periods_of(ROWS, ["UK"], "ZZ") == []


def test_a_period_within_another_adds_nothing() -> None:
    assert periods_of(ROWS, ["UK"], "12") == [(1989, None)]  # cinema to 2002, home formats from 1994 on


def test_years_that_sources_do_not_agree_on_are_told() -> None:
    """BFI and board pages differ on H (1932 or 1933), statutes on -13 (1959 or 1961): see config/certificates.csv."""
    assert doubtful_years(ROWS, ["FR"], "-13") == {1959, 1960}
    assert doubtful_years(ROWS, ["UK"], "H") == {1932, 1951}
    assert doubtful_years(ROWS, ["UK"], "AA") == frozenset()
    assert doubtful_years(ROWS, ["AU"], "SOA") == frozenset()  # from memory: it has no years at all
