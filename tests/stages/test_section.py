"""Sections of one sheet: a strip at one edge of each, told from copies, crops and details. Worked out by hand."""

from pathlib import Path

import numpy as np
import pytest

from intake.config.sets import SetRules
from intake.kin import Match, Section
from intake.model import Box
from intake.stages.section import section
from tests.made import key, match
from tests.made import section as rules_of

RULES = rules_of(SetRules, Path("config/sets.toml"))
A, B = sorted((key("upper"), key("lower")))
WIDE = Box(0, 0, 3000, 2000)
TALL = Box(0, 0, 2000, 3000)


def moved(x: float, y: float, scale: float = 1.0, turn: float = 0.0, **given: object) -> Match:
    """b's picture is a's, shifted by (x, y) pixels after a turn (degrees) about a's corner."""
    c, s = scale * np.cos(np.radians(turn)), scale * np.sin(np.radians(turn))
    transform = (c, -s, x, s, c, y, 0.0, 0.0, 1.0)
    return match(A, B, transform=tuple(map(float, transform)), scale=scale, rotation=turn % 360, **given)


def test_two_halves_that_share_a_strip() -> None:
    # The last 400 of 2,000 rows of a are the first 400 of b.
    assert section(moved(0, -1600), WIDE, WIDE, RULES) == Section(A, B, 0.2, 0.2)
    assert section(moved(0, 1600), WIDE, WIDE, RULES) == Section(A, B, 0.2, 0.2)
    # The last 600 of 2,000 columns.
    assert section(moved(-1400, 20), TALL, TALL, RULES) == Section(A, B, 0.3, 0.3)


def test_sections_of_other_lengths_and_a_little_skew() -> None:
    long = Box(0, 0, 3000, 4000)
    assert section(moved(0, -1600), WIDE, long, RULES) == Section(A, B, 0.2, 0.1)
    skewed = section(moved(0, -1600, turn=1.0), WIDE, WIDE, RULES)
    assert skewed is not None and skewed.shared_a == pytest.approx(0.2, abs=0.03)


def test_a_section_that_was_scanned_lying() -> None:
    # b is a turned by 90 degrees clockwise: a's last 400 columns ... x' = -y + 2000, y' = x - 2600.
    told = section(moved(2000, -2600, turn=90.0), WIDE, TALL, RULES)
    assert told == Section(A, B, round(400 / 3000, 3), round(400 / 3000, 3))


@pytest.mark.parametrize(
    "other",
    [
        moved(0, 0),  # a copy
        moved(10, -30),  # a copy, laid otherwise
        moved(0, -900),  # more than half is shared: a crop
        moved(-1500, -1000),  # a corner alone
        moved(0, -1600, scale=0.5),  # another scale
        moved(0, -1600, turn=30.0),
        moved(0, -1600, mirror=True),
        moved(0, -1600, polarity_flip=True),
        moved(0, -1600, relation="shared_element"),
        moved(0, -1600, probability=0.4),
        moved(0, -2500),  # nothing is shared
        match(A, B, transform=(0.0,) * 9),
    ],
)
def test_no_sections(other: Match) -> None:
    assert section(other, WIDE, WIDE, RULES) is None


def test_a_detail_is_no_section() -> None:
    assert section(moved(-1000, -1600), WIDE, Box(0, 0, 900, 390), RULES) is None
