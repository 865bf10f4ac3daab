"""From marks to dates. The strings are held against the ``edtf`` library (its grammar of ISO 8601-2 and its bounds)."""

import math
from typing import Any

import pytest
from edtf import parse_edtf
from hypothesis import given
from hypothesis import strategies as st

from intake.config.certificates import load_certificates
from intake.model import Box, Mark
from intake.ocr.dating import doubtful_years, periods_of
from intake.stages.dating import CAUTION, Dated, MarkAt, date
from tests.made import CONFIG, SETTINGS, key, mark

RULES = SETTINGS.dating
CERTIFICATES = load_certificates(CONFIG)


def release(value: str, year: int) -> Mark:
    return mark(value, "release_code", dates="a release", year=year)


def deposit(value: str, year: int, begun: int | None = None) -> Mark:
    return mark(value, "deposit", dates="a print run", year=year, periods=((begun, None),) if begun else ())


def certificate(country: str, value: str, **given: Any) -> Mark:
    periods = tuple(periods_of(CERTIFICATES, [country], value))
    doubtful = tuple(doubtful_years(CERTIFICATES, [country], value))
    return mark(value, "certificate", country=country, dates="the film", periods=periods, doubtful=doubtful, **given)


def copyright_of(year: int) -> Mark:
    return mark(str(year), "copyright", dates="the film or the art", year=year)


WEB = mark("www.", "web", dates="a print run", periods=((1995, None),), doubtful=(1995,))
NITRATE, SAFETY = mark("NITRATE", "film_base"), mark("SAFETY", "film_base")


def dated(*marks: Mark, **given: Any) -> Dated:
    places = [Box(10 * n, 0, 5, 5) for n in range(len(marks))]
    return date([MarkAt(key(f"scan {n % 2}"), m) for n, m in enumerate(map(_at, marks, places))], RULES, **given)


def _at(one: Mark, box: Box) -> Mark:
    return Mark(**{**{n: getattr(one, n) for n in Mark.__dataclass_fields__}, "box": box})


@pytest.mark.parametrize(
    ("marks", "edtf"),
    [
        ((release("61/204", 1961),), "1961/1962~"),
        ((deposit("B. 1-1972", 1972, 1958),), "1972/1973~"),
        ((copyright_of(1968),), "1968~/"),
        ((mark("24318", "visa", dates="the film", periods=((1919, None),)),), "1919~/.."),
        ((certificate("UK", "AA"),), "1970~/1982~"),
        ((certificate("UK", "H"),), "1932%/1951%"),
        ((certificate("FR", "-13"),), "1959%/1990~"),
        ((certificate("DE", "ab 12"),), "1957~/.."),
        ((WEB,), "1995?/.."),
        # Two periods of one label stay two: alone they give the first year, beside another mark the one that fits.
        ((certificate("FR", "-18"),), "1961~/.."),
        ((certificate("FR", "-18"), deposit("1975", 1975)), "1975/1976~"),
        ((certificate("FR", "-18"), WEB), "2001~/.."),
        ((certificate("FR", "-16"),), ""),
        ((certificate("FR", "-16"), deposit("1958", 1958)), "1958/1959~"),
        ((certificate("FR", "-16"), deposit("1996", 1996)), "1996/1997~"),
        # The latest beginning and the earliest end; a film's mark is soft.
        ((copyright_of(1960), release("61/204", 1961), certificate("UK", "X")), "1961/1962~"),
        ((copyright_of(1962), release("61/204", 1961)), "1962~/1962~"),
        ((), ""),
        ((NITRATE,), ""),
        ((mark("VELLA & ROOK"),), ""),
        ((release("61/204", 1961), mark("75/3", "release_code", dates="a release", year=1975, accepted="no")),
         "1961/1962~"),
    ],
)  # fmt: skip
def test_what_marks_suggest(marks: tuple[Mark, ...], edtf: str) -> None:
    found = dated(*marks)
    assert found.edtf == edtf
    assert found.contradictions == ()
    assert (CAUTION in found.words) == bool(edtf or any(m.periods for m in marks))


def test_ends_name_the_mark_that_they_rest_on() -> None:
    found = dated(copyright_of(1962), release("61/204", 1961))
    assert found.not_before is not None and found.certain is not None and found.until is not None
    assert (found.not_before.year, found.not_before.firm, found.not_before.at.mark.kind) == (1962, False, "copyright")
    assert (found.certain.year, found.certain.firm, found.certain.at.mark.value) == (1961, True, "61/204")
    assert found.until.at.mark.box == Box(10, 0, 5, 5)
    assert found.certain.why == RULES.counts["a release"].words != found.until.why
    assert found.words.startswith("Marks suggest not before about 1962 (by copyright 1962), usual until about 1962 (by")
    assert "Certainly not before 1961, by release code 61/204." in found.words


def test_two_periods_are_told_in_words() -> None:
    assert "certificate -18 was in use 1961–1990 or from 2001 on." in dated(certificate("FR", "-18")).words
    assert "certificate -16 was in use ?–1961 or from 1990 on." in dated(certificate("FR", "-16")).words


@pytest.mark.parametrize(
    ("marks", "edtf", "values"),
    [
        ((WEB, release("51/12", 1951)), "1995?/..", {"www.", "51/12"}),
        ((certificate("UK", "H"), certificate("UK", "AA")), "1970~/1982~", {"H", "AA"}),
        ((release("61/204", 1961), release("R75/3", 1975)), "1975/1976~", {"61/204", "R75/3"}),
        ((certificate("FR", "-18"), deposit("1996", 1996)), "2001~/..", {"-18", "1996"}),
        ((deposit("B. 1-1949", 1949, 1958),), "1958/", {"B. 1-1949"}),
        ((NITRATE, SAFETY), "", {"NITRATE", "SAFETY"}),
    ],
    ids=["web address", "two certificates", "two releases", "between two periods", "before its law", "both bases"],
)  # fmt: skip
def test_contradictions_name_both_marks(marks: tuple[Mark, ...], edtf: str, values: set[str]) -> None:
    found = dated(*marks)
    assert found.edtf == edtf
    (one,) = found.contradictions
    assert {at.mark.value for at in one.marks} == values
    assert len({at.mark.box for at in one.marks}) == len(values)
    assert all(v in one.words for v in values)


def test_a_mark_that_two_scans_show_counts_once() -> None:
    assert dated(NITRATE, NITRATE).contradictions == ()
    assert len(dated(release("61/204", 1961), release("61/204", 1961), WEB).contradictions) == 1


def test_many_marks_are_bounded() -> None:
    found = dated(*[release(f"{40 + 3 * n}/{n}", 1940 + 3 * n) for n in range(12)] * 16)
    assert len(found.contradictions) == 12


@pytest.mark.parametrize("order", [1, -1])
def test_the_order_of_marks_changes_nothing(order: int) -> None:
    marks = [copyright_of(1960), release("61/204", 1961), certificate("FR", "-18")][::order]
    assert dated(*marks).edtf == "1961/1962~"


# Intervals of years among the examples of the specification (Library of Congress, loc.gov/standards/datetime, levels 0
# and 1): the shapes that we write.
VECTORS = ["1964/2008", "1984~/2004~", "1985/..", "1985/", "/1985"]


@pytest.mark.parametrize("text", VECTORS)
def test_the_library_reads_its_own_vectors(text: str) -> None:
    assert str(parse_edtf(text)) == text


years = st.integers(1890, 2050)
some_marks = st.lists(
    st.one_of(
        years.map(lambda y: release(f"{y}/1", y)),
        years.map(copyright_of),
        years.map(lambda y: deposit(str(y), y, 1958)),
        st.sampled_from(sorted({(c.country, v) for c in CERTIFICATES for v in c.values})).map(
            lambda c: certificate(*c)
        ),
        st.just(WEB),
    ),
    max_size=6,
)


@given(some_marks)
def test_every_string_is_edtf_with_the_same_bounds(marks: list[Mark]) -> None:
    found = dated(*marks)
    if not found.edtf:
        return
    read = parse_edtf(found.edtf)
    assert str(read) == found.edtf
    if found.not_before:
        assert read.lower_strict()[0] == found.not_before.year
        assert (read.lower.is_approximate, read.lower.is_uncertain) == _qualified(found.not_before)
    if found.until:
        assert read.upper_strict()[0] == found.until.year
        assert (read.upper.is_approximate, read.upper.is_uncertain) == _qualified(found.until)
    elif found.edtf.endswith(".."):
        assert read.upper_strict() == math.inf
    if found.not_before and found.until:
        assert found.not_before.year <= found.until.year
    if found.certain and found.not_before:
        assert found.certain.firm and found.certain.year <= found.not_before.year


def _qualified(bound: Any) -> tuple[bool, bool]:
    """(approximate, uncertain) as the library says it: % is a qualifier of its own there."""
    soft, doubt = not bound.firm, bound.doubtful
    return (soft and not doubt, doubt and not soft) if not (soft and doubt) else (False, False)


def test_every_class_of_mark_in_the_patterns_is_known() -> None:
    assert {p.dates for p in SETTINGS.patterns} - {""} <= set(RULES.counts)
