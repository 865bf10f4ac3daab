"""Lines as slanting rectangles."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.imaging.lines import (
    cut_out,
    lengthwise,
    middle_of,
    orders_of,
    orders_upright,
    runs_into,
    stitched,
    turn_of,
    without_repeats,
)
from intake.model import Box

LINE = np.array([[100, 200], [500, 200], [500, 240], [100, 240]], np.float32)


def turned(quad: np.ndarray, degrees: float, about: tuple[float, float] = (300, 220)) -> np.ndarray:
    a = np.radians(degrees)
    matrix = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return ((quad - about) @ matrix.T + about).astype(np.float32)


@pytest.mark.parametrize(("clockwise", "rotation"), [(0, 0), (90, 270), (180, 180), (270, 90), (4, 0), (-4, 0)])
def test_a_line_tells_the_turn_that_sets_it_upright(clockwise: float, rotation: int) -> None:
    assert turn_of(turned(LINE, clockwise)) == (rotation, False)
    mirrored = turned(LINE, clockwise) * np.float32([-1, 1])
    assert turn_of(mirrored) == (rotation, True)


@given(st.permutations(range(4)), st.floats(0, 360))
def test_a_quad_has_eight_orders_of_which_four_run_lengthwise(start: list[int], degrees: float) -> None:
    quad = turned(LINE, degrees)
    shuffled = np.roll(quad, start[0], axis=0)[:: 1 if start[1] > start[2] else -1]
    assert len({o.tobytes() for o in orders_of(shuffled)}) == 8
    assert len({turn_of(o) for o in lengthwise(shuffled)}) == 4


def test_upright_orders_follow_the_parts_turn() -> None:
    assert [turn_of(o) for o in orders_upright(LINE, 180, True)] == [(180, True)]
    on_end = orders_upright(LINE, 90, False)
    assert sorted(turn_of(o) for o in on_end) == [(0, False), (180, False)]


@pytest.mark.parametrize("degrees", [0, 3, 90, 180, 200])
def test_a_line_is_cut_out_upright(degrees: float) -> None:
    picture = np.zeros((700, 700, 3), np.uint8)
    ys, xs = np.mgrid[0:700, 0:700]
    a = np.radians(degrees)
    along = (xs - 350) * np.cos(a) + (ys - 350) * np.sin(a)
    down = (ys - 350) * np.cos(a) - (xs - 350) * np.sin(a)
    picture[(np.abs(along) < 200) & (np.abs(down) < 20)] = 60
    picture[(along > -200) & (along < -160) & (np.abs(down) < 20)] = 250  # where its reading begins
    order = turned(LINE + np.float32([50, 130]), degrees, (350, 350))

    def crop(box: Box, longest_px: int | None) -> np.ndarray:
        assert longest_px is None
        return picture[box.top : box.top + box.height, box.left : box.left + box.width]

    cut = cut_out(order, crop, Box(0, 0, *picture.shape[1::-1]), 72)
    assert cut.shape == (40, 400, 3)
    assert cut[20, 10:30].mean() > 200
    assert cut[20, 60:390].mean() < 70


def test_a_line_outside_the_picture_is_one_pixel() -> None:
    def crop(*_: object) -> np.ndarray:
        raise AssertionError("nothing to crop")

    assert cut_out(LINE, crop, Box(600, 0, 400, 400), 72).shape == (1, 1, 3)


@pytest.mark.parametrize("shift", [(-60, 0), (60, 0), (0, -20), (0, 20)])
def test_a_line_that_hangs_over_an_edge_keeps_its_scale_and_place(shift: tuple[float, float]) -> None:
    picture = np.full((240, 600, 3), 200, np.uint8)
    picture[:, 300] = 0
    page = Box(100, 200, 400, 40)  # all but the page is hidden

    def crop(box: Box, longest_px: int | None) -> np.ndarray:
        assert box.left >= 100 and box.top >= 200 and box.left + box.width <= 500 and box.top + box.height <= 240
        patch = picture[box.top : box.top + box.height, box.left : box.left + box.width]
        shrink = longest_px / max(patch.shape[:2]) if longest_px else 1.0
        return cv2.resize(patch, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)

    for height in (40, 16):
        cut = cut_out((LINE + np.float32(shift)).astype(np.float32), crop, page, height)
        assert cut.shape[:2] == (height, height * 10)
        dark = float(np.argmin(cut.mean(axis=(0, 2)))) / cut.shape[1] * 400
        assert abs(dark - (200 - shift[0])) < 4


def test_the_middle_of_a_line_keeps_height_and_direction() -> None:
    middle = middle_of(LINE, 4.0)
    np.testing.assert_allclose(middle, [[220, 200], [380, 200], [380, 240], [220, 240]])
    np.testing.assert_allclose(middle_of(LINE, 40.0), LINE)


def test_the_first_of_several_finds_is_kept_and_small_ones_do_not_hide_large_ones() -> None:
    again = LINE + np.float32([3, 2])
    half = np.array([[100, 200], [250, 200], [250, 240], [100, 240]], np.float32)
    apart = LINE + np.float32([0, 60])
    kept = without_repeats([LINE, again, half, apart])
    assert [k.tobytes() for k in kept] == [LINE.tobytes(), apart.tobytes()]
    assert len(without_repeats([half, LINE])) == 2


def test_a_line_that_was_cut_grows_to_what_another_look_saw_of_it() -> None:
    def quad(left: float, top: float, right: float, bottom: float) -> np.ndarray:
        return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float32)

    cut, part, line_above = quad(100, 50, 500, 66), quad(400, 38, 505, 66), quad(100, 20, 500, 50)
    (whole,) = stitched([cut], [part, line_above])
    assert (whole.min(axis=0).tolist(), whole.max(axis=0).tolist()) == ([100, 38], [505, 66])
    assert stitched([cut], [line_above])[0].tolist() == cut.tolist()


def test_another_line_on_the_row_is_told_from_the_rest_of_the_same_line() -> None:
    def quad(left: float, right: float) -> np.ndarray:
        return np.array([[left, 200], [right, 200], [right, 240], [left, 240]], np.float32)

    assert runs_into(LINE, quad(100, 900), quad(560, 900))  # begins 60 px further on, more than a height of 40
    assert not runs_into(LINE, quad(100, 700), quad(530, 700))  # its own other half
    assert not runs_into(LINE, quad(100, 520), quad(560, 900))
    assert not runs_into(LINE, quad(100, 520), LINE)
