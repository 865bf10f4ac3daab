"""One piece twice, one scan saved anew, two copies: what the sheets' own structure and the frames tell."""

from typing import Any

import numpy as np
import pytest

from intake.imaging.grain import Grain
from intake.kin import ANEW
from intake.stages.twice import twice, worth_asking
from tests.made import SETTINGS, key, match

RULES = SETTINGS.match.same_piece
PAIR = match(key("a"), key("b"), coverage_a=0.97, coverage_b=0.98)
A = (3000, 4000)
AWAY = np.array([[1, 0.002, 14], [-0.002, 1, -9], [0, 0, 1.0]])
QUARTER = np.array([[0, -1, 4000], [1, 0, 0], [0, 0, 1.0]])


def _told(
    together: float, tiles: int = 40, onto_b: Any = AWAY, b_px: tuple[int, int] = A
) -> tuple[str, set[str], float]:
    made = twice(PAIR, Grain(together, -0.02, tiles, onto_b), onto_b, A, b_px, RULES)
    assert made.relation == "same_design" or made.probability == pytest.approx(1 / (1 + np.exp(-made.weight)), abs=1e-4)
    return made.relation, {e.name for e in made.evidence} & {"grain", ANEW}, made.probability


def test_a_sheet_s_own_structure_tells_that_it_was_scanned_twice() -> None:
    assert _told(0.95)[:2] == ("same_piece", {"grain"})
    assert _told(0.92)[2] < _told(0.95)[2] < 0.95


@pytest.mark.parametrize(("together", "tiles"), [(0.80, 40), (0.89, 40), (0.97, RULES.tiles - 1)])
def test_copies_and_what_rests_on_too_little_stay_one_design(together: float, tiles: int) -> None:
    assert _told(together, tiles) == ("same_design", set(), PAIR.probability)
    assert twice(PAIR, None, AWAY, A, A, RULES) == PAIR


@pytest.mark.parametrize(
    ("onto_b", "b_px"),
    [(np.eye(3), A), (np.diag([0.5, 0.5, 1]), (1500, 2000)), (QUARTER, (4000, 3000))],
)
def test_frame_on_frame_it_is_one_scan_saved_anew(onto_b: Any, b_px: tuple[int, int]) -> None:
    assert _told(0.88, onto_b=onto_b, b_px=b_px)[:2] == ("same_piece", {"grain", ANEW})
    moved = np.array([[1, 0, 4.0], [0, 1, 0], [0, 0, 1]]) @ onto_b
    assert _told(0.95, onto_b=moved, b_px=b_px)[1] == {"grain"}


def test_only_whole_pictures_of_one_polarity_are_asked() -> None:
    assert worth_asking(PAIR, RULES)
    for other in ({"coverage_a": 0.5}, {"polarity_flip": True}, {"mirror": True}, {"relation": "shared_element"}):
        assert not worth_asking(match(key("a"), key("b"), **{"coverage_a": 0.97, "coverage_b": 0.98, **other}), RULES)
