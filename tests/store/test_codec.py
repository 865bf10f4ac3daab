"""Model values come back from the ledger as they went in."""

import math
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.kin import Match
from intake.model import (
    Box,
    Checked,
    Classified,
    Evidence,
    Finding,
    Kind,
    Line,
    Mark,
    PartFound,
    PartKey,
    Polarity,
    ReaderSaid,
    Reading,
)
from intake.store.codec import from_text, to_text

st.register_type_strategy(float, st.floats(allow_nan=False, allow_infinity=False))
st.register_type_strategy(str, st.text(max_size=20))
MODEL = (Box, Checked, Classified, Evidence, Finding, Line, Mark, Match, PartFound, PartKey, Reading)


@settings(max_examples=150, deadline=None)
@given(value=st.one_of([st.from_type(kind) for kind in MODEL]))
def test_every_value_comes_back(value: object) -> None:
    assert from_text(type(value), to_text(value)) == value


def test_the_same_value_is_the_same_text() -> None:
    value = Classified(get_args(Kind)[0], 0.1 + 0.2, get_args(Polarity)[0], 1e-300)
    assert to_text(value) == to_text(from_text(Classified, to_text(value)))
    assert from_text(Classified, to_text(value)).kind_confidence == 0.1 + 0.2  # not rounded


def test_a_tuple_of_values_comes_back() -> None:
    reasons = (Evidence("a", "words", 1.5, Box(1, 2, 3, 4)), Evidence("b", "more", -0.25))
    assert from_text(tuple[Evidence, ...], to_text(reasons)) == reasons
    assert from_text(tuple[Evidence, ...], to_text(())) == ()


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_is_refused_when_it_is_written(bad: float) -> None:
    """Once in the ledger, it could not be read again and would stop every table."""
    with pytest.raises(ValueError, match="not JSON compliant"):
        to_text(Classified("artwork", bad, "positive", 1.0))
    with pytest.raises(ValueError, match="not JSON compliant"):
        to_text(Line(((0.0, bad),), "x", 1.0, True, ()))


def test_text_that_no_file_can_hold_is_replaced() -> None:
    """A message may quote a file name, and names may hold bytes that are no UTF-8."""
    finding = Finding("check", "unreadable", "failure", "Gr\udcfc\udcdfe cannot be read")
    assert from_text(Finding, to_text(finding)).message == "Gr??e cannot be read"


def test_what_is_no_such_value_is_refused() -> None:
    with pytest.raises(ValueError):
        from_text(Box, '{"left": "far"}')
    with pytest.raises(ValueError):
        from_text(ReaderSaid, "")
