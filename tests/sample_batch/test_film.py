"""Film of the sample in density, against published practice; where only memory backs a figure, bounds are wide."""

import cv2
import numpy as np
import pytest

from sample_batch.film import (
    CLEAR_BASE,
    MASK_BASE,
    NEUTRAL_BASE,
    Film,
    expose,
    negative_density,
    reversal_density,
    see_through,
)
from sample_batch.light import to_linear
from sample_batch.page import blank


def steps(stops: float) -> np.ndarray:
    """Grey patches from 0.9 downward, ``stops`` apart, as (1, n, 3)."""
    values = 0.6 * 2.0 ** -(np.arange(5) * stops)
    return np.repeat(values[None, :, None], 3, axis=2).astype(np.float32)


def test_colour_negative_adds_about_018_density_a_stop() -> None:
    """Common practice: slope about 0.6, so one stop (0.30 log exposure) adds about 0.18 on the straight line."""
    density = negative_density(steps(1.0), MASK_BASE)[0, :, 1]
    rise = -np.diff(density)[:3]
    assert rise == pytest.approx(np.full(3, 0.18), abs=0.025)


def test_masked_base_is_orange() -> None:
    """Practice: R > G > B through the clear border, R/B clearly above 2. Computed from .2/.6/.9: 2.51 and 5.01."""
    red, green, blue = 10.0 ** -np.array(MASK_BASE)
    assert red / green == pytest.approx(2.51, abs=0.01)
    assert red / blue == pytest.approx(5.01, abs=0.01)
    seen = to_linear(see_through(np.float32(MASK_BASE)[None, None]))[0, 0]
    assert seen[0] > seen[1] > seen[2] and seen[0] / seen[2] > 2


def test_neutral_bases_are_neutral_and_light() -> None:
    """From memory only (base and fog 0.05-0.35; slide minimum about 0.15-0.2): bounds, no exact figure."""
    for base in (NEUTRAL_BASE, CLEAR_BASE):
        assert 0.05 < min(base) <= max(base) < 0.35
        assert max(base) - min(base) < 0.05


def test_transparency_is_steeper_than_one_and_positive() -> None:
    """From memory (slope 1.2 or more, maximum above 3): only that it is steeper than 1 and dark stays dark."""
    density = reversal_density(steps(1.0))[0, :, 1]
    assert (np.diff(density)[1:] > 0.30).all()
    assert reversal_density(np.zeros((1, 1, 3), np.float32)).min() > 2.5


@pytest.mark.parametrize(
    ("sort", "reversed_tones"), [("colour", True), ("mono", True), ("plate", True), ("transparency", False)]
)
def test_tones_turn_round_in_negatives_only(sort: str, reversed_tones: bool) -> None:
    subject = blank(80, 100, 60, (0.9, 0.9, 0.9))
    subject.pixels[:, : subject.pixels.shape[1] // 2] = 0.05
    film = expose(Film(sort, 100, 125, (4, 5), seed=1), subject, 60)
    middle = film.pixels[100:-100].mean(axis=(0, 2))
    dark, light = middle[40:90].mean(), middle[-90:-40].mean()
    assert bool(dark > light) is reversed_tones


def test_notch_lies_upper_left_seen_through_the_base() -> None:
    """Published practice: notch at the upper right = emulsion towards you, so right reading it is at the upper left."""
    subject = blank(80, 100, 60, (0.5, 0.5, 0.5))
    film = expose(Film("mono", 100, 125.4, (3, 4.5), notched=True, seed=3), subject, 100)
    assert film.alpha is not None
    top = film.alpha[:6].min(axis=0)
    cut = np.flatnonzero(top[8:-8] < 0.5) + 8
    assert cut.size and cut.max() < film.alpha.shape[1] / 2


def test_rebate_is_clear_base_and_carries_its_words() -> None:
    subject = blank(80, 100, 60, (0.5, 0.5, 0.5))
    film = expose(Film("colour", 100, 125.4, (4, 5), "SAFETY FILM 7314", "SAFETY", seed=3), subject, 200)
    strip = film.pixels[:, -20:-8].reshape(-1, 3).mean(axis=0)
    assert strip == pytest.approx(see_through(np.float32(MASK_BASE)[None, None])[0, 0], abs=0.02)
    left, top, right, bottom = (int(v) for v in film.marks[0].box)
    letters = cv2.GaussianBlur(film.pixels[top:bottom, left:right, 0], (0, 0), 0.5)
    assert letters.min() < strip[0] - 0.2
