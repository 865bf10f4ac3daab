"""One scan saved anew beside a piece scanned again: what the frame alone tells."""

from typing import Any

import numpy as np
import pytest

from intake.stages.anew import saved_anew
from tests.made import SETTINGS, key, match

RULES = SETTINGS.sets
A = (3000, 4000)
RNG = np.random.default_rng(3)
PLACES = RNG.uniform((200, 200), (2800, 3800), (60, 2))


def _seen(places: np.ndarray, **given: Any) -> Any:
    points = tuple((*a, *b) for a, b in zip(PLACES.tolist(), places.tolist(), strict=True))
    return match(key("a"), key("b"), points=points, relation="same_piece", **given)


def _noisy(places: np.ndarray) -> np.ndarray:
    return places + RNG.normal(0, 0.3, places.shape)


def test_smaller_turned_or_mirrored_it_is_the_same_scan() -> None:
    assert saved_anew(_seen(_noisy(PLACES)), A, A, RULES)
    assert saved_anew(_seen(_noisy(PLACES / 2)), A, (1500, 2000), RULES)
    # a quarter clockwise: what was at the left is at the top
    quarter = np.column_stack([4000 - PLACES[:, 1], PLACES[:, 0]])
    assert saved_anew(_seen(_noisy(quarter), rotation=90.0), A, (4000, 3000), RULES)
    other_way = np.column_stack([3000 - PLACES[:, 0], PLACES[:, 1]])
    assert saved_anew(_seen(_noisy(other_way), mirror=True), A, A, RULES)


@pytest.mark.parametrize("moved", [(4.0, 0.0), (0.0, -3.0)])
def test_a_piece_that_lies_a_millimetre_elsewhere_was_scanned_again(moved: tuple[float, float]) -> None:
    assert not saved_anew(_seen(_noisy(PLACES + moved)), A, A, RULES)


def test_a_turn_of_a_twentieth_of_a_degree_is_another_scan() -> None:
    turn = np.deg2rad(0.1)
    away = (PLACES - (1500, 2000)) @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert not saved_anew(_seen(away + np.array((1500, 2000))), A, A, RULES)


def test_a_frame_of_another_shape_few_points_or_the_other_polarity_tell_nothing() -> None:
    assert not saved_anew(_seen(PLACES), A, (3000, 4100), RULES)
    assert not saved_anew(_seen(PLACES, polarity_flip=True), A, A, RULES)
    few = _seen(PLACES)
    assert not saved_anew(match(few.a, few.b, points=few.points[:10]), A, A, RULES)
