"""Brushwork follows a painting onto film, another hand's does not, and what was painted out is left untold."""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.overlay import lay
from intake.imaging.surface import Brushwork, brushwork
from intake.imaging.untold import set_side_by_side
from tests.made import SETTINGS

Floats = NDArray[np.float32]
RULES = SETTINGS.very_object
SIZE = (560, 460)


def _shapes(random: np.random.Generator) -> Floats:
    """A design: some forty shapes of one tone each."""
    made = np.full(SIZE, 120, np.float32)
    for _ in range(40):
        at = random.uniform(0, 1, 2) * SIZE[::-1]
        axes, turn = random.uniform(15, 90, 2).astype(int), float(random.uniform(0, 180))
        tone = float(random.uniform(50, 200))
        cv2.ellipse(made, at.astype(int).tolist(), axes.tolist(), turn, 0, 360, tone, -1, cv2.LINE_AA)
    return cv2.GaussianBlur(made, (0, 0), 1.0)


def _hand(random: np.random.Generator) -> Floats:
    strokes = cv2.GaussianBlur(random.normal(0, 1, SIZE).astype(np.float32), (0, 0), 1.8)
    return strokes * (9 / strokes.std())


@cache
def _laid(what: str) -> Brushwork:
    random = np.random.default_rng(5)
    shapes, first, second = _shapes(random), *(_hand(random) for _ in range(2))
    art = shapes + (second if what == "another hand" else first)
    film = 255 - 0.8 * cv2.GaussianBlur(shapes + first, (0, 0), 0.6) + random.normal(0, 2, SIZE)
    if what == "gone over":
        art[200:330, 120:260] = (shapes + second)[200:330, 120:260]
    if what == "painted out":
        art[300:335, 150:260] = 130 + second[300:335, 150:260]
    a, b = (np.repeat(np.clip(p, 0, 255).astype(np.uint8)[..., None], 3, axis=2) for p in (art, film))
    over = lay(a, b, np.array([[1, 0.002, 0.8], [-0.001, 1, -0.6], [0, 0, 1]]), SETTINGS.differ.frame_px)
    assert over is not None
    ground = set_side_by_side(over, SETTINGS.differ, polarity_flip=True)
    assert ground is not None
    made = brushwork(a, b, ground, RULES, polarity_flip=True)
    assert made is not None
    return made


def test_the_same_hand_goes_together_everywhere_and_only_where_it_lies() -> None:
    same = _laid("itself")
    assert same.faint > RULES.same_hand + 0.1 and same.aside < RULES.by_chance
    assert same.untold_film < RULES.untold_on_film and same.untold_art < RULES.untold_on_art
    assert same.strange < RULES.most_strange
    assert len(same.alike) and not len(same.unlike)


def test_another_hand_has_the_contours_alone() -> None:
    other = _laid("another hand")
    assert other.faint < RULES.other_hand < other.plain


def test_what_was_painted_out_is_left_untold_where_it_lay() -> None:
    now = _laid("painted out")
    assert now.faint > RULES.same_hand
    assert now.untold_film > RULES.untold_on_film
    x, y = now.over.on_a(now.unlike[0]).mean(axis=0)
    assert 135 < x < 275 and 285 < y < 350


def test_what_was_gone_over_in_the_same_colours_is_strange() -> None:
    now = _laid("gone over")
    assert now.faint > RULES.same_hand
    assert now.strange > RULES.most_strange
    x, y = now.over.on_a(now.unlike[0]).mean(axis=0)
    assert 105 < x < 275 and 185 < y < 345
