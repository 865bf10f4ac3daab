"""Negatives printed: base, curve, balance; and the measure that positives are judged by, as published."""

from pathlib import Path

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000

from intake.config.render import RenderRules
from intake.imaging.darkroom import find_base, is_grey, log_exposure, printed
from intake.imaging.density import density_table
from sample_batch.light import to_srgb
from tests.made import CONFIG, section

RULES = section(RenderRules, CONFIG / "render.toml")


def test_the_colour_difference_is_that_of_the_34_published_pairs() -> None:
    """Sharma, Wu, Dalal 2005 (The CIEDE2000 color-difference formula, table 1); the bench uses this function."""
    rows = np.loadtxt(Path(__file__).with_name("sharma.txt"))
    assert rows.shape == (34, 7)
    assert np.abs(deltaE_ciede2000(rows[:, :3], rows[:, 3:6]) - rows[:, 6]).max() < 0.00006


def test_the_curve_is_straightened() -> None:
    """What a film of this toe and shoulder makes of an exposure is carried back to it."""
    exposure = np.linspace(-0.1, 1.8, 60)
    density = RULES.film_gamma * RULES.film_toe * np.logaddexp(0, exposure / RULES.film_toe)
    density = density / (1 + (density / RULES.film_shoulder) ** 6) ** (1 / 6)
    assert np.abs(log_exposure(density.astype(np.float32), RULES) - exposure).max() < 0.01


def test_the_base_is_the_clear_rim_or_a_guess_below_the_shadows() -> None:
    rng = np.random.default_rng(5)
    picture = (np.float32([0.2, 0.6, 0.9]) + rng.uniform(0.1, 1.2, (4000, 1))).astype(np.float32)
    clear = (np.float32([0.2, 0.6, 0.9]) + rng.normal(0, 0.01, (500, 3))).astype(np.float32)
    seen = find_base(clear, picture)
    assert seen.seen
    assert np.abs(seen.density - (0.2, 0.6, 0.9)).max() < 0.01
    # cut into the picture: what lies along the edge is no rim
    for rim in (picture[:500], clear + 0.8, clear[:0]):
        guessed = find_base(rim, picture)
        assert not guessed.seen
        assert np.abs(guessed.density - (0.27, 0.67, 0.97)).max() < 0.02


def negative_of(light: np.ndarray, gammas: tuple[float, float, float], mask: tuple[float, float, float]) -> np.ndarray:
    """A straight-line negative with 30 pixels of clear rim, 16 bits."""
    density = np.float32(gammas) * (np.log10(light) + 1.9) + np.float32(mask)
    whole = np.full((light.shape[0] + 60, light.shape[1] + 60, 3), mask, np.float32)
    whole[30:-30, 30:-30] = density
    return np.asarray(to_srgb((10**-whole).astype(np.float32)) * 65535 + 0.5, np.uint16)


def masks(shape: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    inside, rim = np.zeros(shape[:2], bool), np.ones(shape[:2], bool)
    inside[40:-40, 40:-40], rim[20:-20, 20:-20] = True, False
    return inside, rim


def greys() -> np.ndarray:
    """Neutral fields from black to white beside coloured ones, linear light (160, 200, 3)."""
    light = np.repeat(np.geomspace(0.02, 0.9, 200, dtype=np.float32)[None], 160, axis=0)[..., None].repeat(3, axis=2)
    for number, colour in enumerate(((0.6, 0.2, 0.1), (0.1, 0.3, 0.5), (0.2, 0.5, 0.15))):
        light[100:, 20 + 50 * number : 60 + 50 * number] = colour
    return light


@pytest.mark.parametrize("gammas", [(0.6, 0.6, 0.6), (0.56, 0.6, 0.65)])
def test_a_masked_negative_prints_neutral_where_the_subject_was(gammas: tuple[float, float, float]) -> None:
    coded = negative_of(greys(), gammas, (0.2, 0.6, 0.9))
    seen = printed(coded, *masks(coded.shape), RULES)[30:-30, 30:-30]
    # levels between the channels; crossed gammas cannot be told from a coloured subject altogether
    cast = np.ptp(seen[20:90, 20:180].astype(float), axis=2).mean()
    assert cast < (3 if gammas[0] == gammas[2] else 16)
    assert (np.diff(seen[50, :, 1].astype(int)) >= 0).all()


def test_tones_are_those_of_16_bits() -> None:
    """Dense places lie within few levels of 8 bits: printed from these they would break into steps."""
    light = np.repeat(np.geomspace(0.02, 0.9, 400, dtype=np.float32)[None], 160, axis=0)[..., None].repeat(3, axis=2)
    coded = negative_of(light, (0.8, 0.8, 0.8), (0.2, 0.6, 0.9))
    deep = printed(coded, *masks(coded.shape), RULES)[100, 30:-30]
    coarse = printed((coded // 257).astype(np.uint8), *masks(coded.shape), RULES)[100, 30:-30]
    assert len(np.unique(deep[:, 2])) > 1.5 * len(np.unique(coarse[:, 2]))


def test_film_without_colour_prints_grey_whatever_its_stain() -> None:
    grey = greys()[..., 1:2].repeat(3, axis=2)
    stained = negative_of(grey, (0.6, 0.6, 0.6), (0.1, 0.14, 0.25))
    inside, rim = masks(stained.shape)
    assert is_grey(stained, inside, RULES)
    assert np.ptp(printed(stained, inside, rim, RULES), axis=2).max() == 0
    assert not is_grey(negative_of(greys(), (0.6, 0.6, 0.6), (0.1, 0.14, 0.25)), inside, RULES)


def test_black_film_and_bare_lamp_print_without_error() -> None:
    for level in (0, 65535):
        coded = np.full((120, 120, 3), level, np.uint16)
        assert printed(coded, *masks(coded.shape), RULES).shape == coded.shape
    assert density_table(np.dtype(np.uint16)).max() <= 4
