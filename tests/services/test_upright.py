"""Geometry of upright pictures, held against numpy's own turning and OpenCV's own mapping (reference libraries)."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.kin import Match
from intake.model import Box, PartKey
from intake.services.upright import Upright, at, inverse, registration, times
from tests.made import key, match

BOX = Box(40, 70, 30, 50)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_pixel_goes_where_numpy_puts_it(turn: int, mirrored: bool) -> None:
    picture = np.zeros((BOX.height, BOX.width), np.uint8)
    picture[11, 7] = 1
    shown = np.rot90(picture[:, ::-1] if mirrored else picture, -turn // 90)
    (row,), (column,) = np.nonzero(shown)
    up = Upright(BOX, turn, mirrored)
    assert up.size == (shown.shape[1], shown.shape[0])
    # Middles of pixels, since from_stored speaks of edges.
    assert at(up.from_stored(), BOX.left + 7.5, BOX.top + 11.5) == pytest.approx((column + 0.5, row + 0.5))


def test_a_boxs_place_is_within_the_picture() -> None:
    for turn in (0, 90, 180, 270):
        left, top, width, height = Upright(BOX, turn, True).place(Box(45, 80, 10, 20))
        assert min(left, top) >= 0 and left + width <= 1 and top + height <= 1
        assert width * height == pytest.approx(200 / 1500)


numbers = st.floats(-2, 2)


@given(st.tuples(*[numbers] * 4), st.tuples(*[st.floats(-900, 900)] * 2), st.tuples(*[st.floats(-1e-4, 1e-4)] * 2))
def test_inverse_undoes(
    linear: tuple[float, float, float, float], shift: tuple[float, float], tilt: tuple[float, float]
) -> None:
    a, b, c, d = linear
    m = (1 + a, b, shift[0], c, 1 + d, shift[1], *tilt, 1.0)
    if abs(np.linalg.det(np.array(m).reshape(3, 3))) < 0.05:
        return
    product = np.array(times(inverse(m), m)).reshape(3, 3)
    assert np.allclose(product / product[2, 2], np.eye(3), atol=1e-6)


def _chain() -> tuple[list[PartKey], list[Match], list[np.ndarray]]:
    keys = sorted(key(name) for name in ("p", "q", "r", "s"))
    steps = [
        np.array([[0.9, -0.1, 40], [0.1, 0.9, -20], [1e-5, 0, 1]]),
        np.array([[-1.0, 0, 900], [0, 1, 3], [0, 0, 1]]),
        np.array([[0, -1.2, 800], [1.2, 0, 5], [0, 2e-5, 1]]),
    ]
    return keys, [match(keys[n], keys[n + 1], transform=tuple(steps[n].ravel())) for n in range(3)], steps


def test_registration_chains_matches_both_ways() -> None:
    keys, matches, steps = _chain()
    there = registration(keys[0], keys[3], matches)
    back = registration(keys[3], keys[0], matches)
    assert there is not None and back is not None
    assert there[1] == (keys[1], keys[2]) and back[1] == (keys[2], keys[1])
    points = np.array([[[100.0, 200.0]], [[450.0, 720.0]]])
    expected = points
    for step in steps:
        expected = cv2.perspectiveTransform(expected, step)
    for (x, y), (u, v) in zip(points[:, 0], expected[:, 0], strict=True):
        assert at(there[0], x, y) == pytest.approx((u, v), abs=1e-6)
        assert at(back[0], u, v) == pytest.approx((x, y), abs=1e-6)


def test_what_no_match_joins_is_not_registered() -> None:
    keys, matches, _ = _chain()
    assert registration(keys[0], key("far"), matches) is None
