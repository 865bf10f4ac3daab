"""The margins as packed strips."""

import numpy as np
import pytest

from intake.imaging.strips import margin_strips
from intake.model import Box

BOX = Box(40, 60, 1600, 2400)


def scan(*dots: tuple[int, int]) -> np.ndarray:
    picture = np.full((2600, 1800, 3), 230, np.uint8)
    for x, y in dots:
        picture[y - 4 : y + 4, x - 4 : x + 4] = 20
    return picture


def strips_of(picture: np.ndarray, scale: float = 1.0, most: float = 4e6) -> list:
    def crop(box: Box, longest_px: int | None) -> np.ndarray:
        part = picture[box.top : box.top + box.height, box.left : box.left + box.width]
        if longest_px is None:
            return part
        step = max(part.shape[:2]) / longest_px
        rows = (np.arange(int(part.shape[0] / step)) * step).astype(int)
        return part[rows][:, (np.arange(int(part.shape[1] / step)) * step).astype(int)]

    return margin_strips(BOX, crop, 120, scale, most / 2, most)


def seen(strip) -> list[tuple[float, float]]:
    """Stored places of what stands on a strip."""
    ys, xs = np.nonzero(strip.picture[..., 0] < 120)
    quads = [
        np.array([[x - 1, y - 1], [x + 1, y - 1], [x + 1, y + 1], [x - 1, y + 1]], np.float32)
        for x, y in zip(xs, ys, strict=True)
    ]
    return [tuple(strip.to_stored(q).mean(axis=0)) for q in quads]


@pytest.mark.parametrize("scale", [0.5, 1.0, 2.0])
@pytest.mark.parametrize(
    "dot", [(300, 2420), (1200, 80), (60, 700), (1610, 1900)], ids=["foot", "head", "left", "right"]
)
def test_what_stands_on_a_strip_is_carried_back_to_its_place(dot: tuple[int, int], scale: float) -> None:
    (strip,) = strips_of(scan(dot), scale)
    places = seen(strip)
    assert places
    assert max(max(abs(x - dot[0]), abs(y - dot[1])) for x, y in places) < 8


def test_blank_margins_have_no_strip_and_blank_stretches_are_left_out() -> None:
    assert strips_of(scan()) == []
    (strip,) = strips_of(scan((300, 2420), (800, 2425), (1400, 2415)))
    assert strip.picture.shape[1] < 700
    found = {(round(x / 50) * 50, round(y / 10) * 10) for x, y in seen(strip)}
    assert {x for x, _ in found} == {300, 800, 1400}


def test_all_strips_together_stay_below_the_bound() -> None:
    rng = np.random.default_rng(5)
    strips = strips_of(rng.integers(0, 255, (2600, 1800, 3), dtype=np.uint8), 2.0, 5e5)
    assert len(strips) == 4
    assert sum(s.picture.shape[0] * s.picture.shape[1] for s in strips) < 5.3e5


def test_lines_at_the_inner_edge_are_known_to_be_cut() -> None:
    (strip,) = strips_of(scan((800, 2343), (900, 2440)))
    height = strip.picture.shape[0]
    at_edge = np.array([[10, 0], [60, 0], [60, 20], [10, 20]], np.float32)
    inside = np.array([[10, height - 40], [60, height - 40], [60, height - 20], [10, height - 20]], np.float32)
    assert strip.is_cut(at_edge) and not strip.is_cut(inside)
