"""What a scanner adds, against pictures to which so much was added."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.capture import lightness, lines_of, look_at_capture, noise_of
from intake.imaging.page import Page
from intake.model import Box, PartKey


def _page(grey: NDArray[np.floating]) -> Page:
    image = np.repeat(np.clip(np.round(grey), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    whole = Box(0, 0, image.shape[1], image.shape[0])

    def read(box: Box, _: int | None) -> NDArray[np.uint8]:
        return image[box.top : box.top + box.height, box.left : box.left + box.width]

    return Page(PartKey("x", 1), whole, image, None, 1.0, whole, read)


def _ground(seed: int = 3, noise: float = 1.0) -> NDArray[np.float64]:
    """A sheet with a picture on a bed, in levels."""
    rng = np.random.default_rng(seed)
    grey = np.full((900, 1200), 120.0)
    grey[160:740, 260:1100] = 160.0
    y, x = np.mgrid[:300, :400]
    grey[300:600, 330:730] = 120 + 60 * np.sin(x / 17.0) * np.cos(y / 23.0) + rng.normal(0, 12, (300, 400))
    return np.asarray(grey + rng.normal(0, noise, grey.shape))


def test_lightness_of_code_values() -> None:
    """CIE L* of sRGB grey 0, 119, 255, and of pure red: 0, 50.03, 100, 53.24 (IEC 61966-2-1 and CIE 15)."""
    image = np.uint8([[[0, 0, 0], [119, 119, 119], [255, 255, 255], [255, 0, 0]]])
    assert lightness(image)[0] == pytest.approx([0, 50.03, 100, 53.24], abs=0.05)


@pytest.mark.parametrize("sigma", [1.5, 3.0, 8.0])
def test_white_noise_is_told_by_its_standard_deviation(sigma: float) -> None:
    """Grey levels of so much spread about 119: one is .39 of L* there, and whole levels add a twelfth of a square."""
    grey = np.round(119 + np.random.default_rng(1).normal(0, sigma, (128, 128))).astype(np.uint8)
    places = noise_of(np.repeat(grey[..., None], 3, axis=2))
    assert len(places) == 16
    assert np.median(places) == pytest.approx(0.39 * math.hypot(sigma, math.sqrt(1 / 12)), rel=0.06)


def test_clipped_places_tell_no_noise() -> None:
    assert noise_of(np.full((128, 128, 3), 255, np.uint8)) == []


def test_the_evenest_places_tell_the_noise_of_a_scan() -> None:
    one, two = (look_at_capture(_page(_ground(noise=n))).noise for n in (2.0, 6.0))
    # a level is .4 of L* at these greys; rounding to whole levels adds its own twelfth of a square
    assert one == pytest.approx(0.38 * math.hypot(2.0, 0.29), rel=0.2)
    assert two == pytest.approx(0.38 * 6.0, rel=0.2)


@pytest.mark.parametrize("along_rows", [True, False])
def test_lines_over_bed_and_piece_are_banding(along_rows: bool) -> None:
    clean = look_at_capture(_page(_ground())).banding
    lines = np.random.default_rng(8).normal(0, 3.0, 900 if along_rows else 1200)
    banded = look_at_capture(_page(_ground() + (lines[:, None] if along_rows else lines[None]))).banding
    assert clean is not None and banded is not None
    assert clean < 0.15 and banded == pytest.approx(0.38 * 3.0, rel=0.25)


def test_a_line_of_the_picture_or_a_pattern_of_jpeg_is_no_banding() -> None:
    strips = np.random.default_rng(2).normal(50, 0.3, (24, 1000))
    bound = lines_of(strips)
    strips[:, 400:404] += 20.0
    strips += np.tile([1.0, 0, 0, 0, 0, 0, 0, -1.0], 125)
    found = lines_of(strips)
    assert bound is not None and found is not None and bound < 0.06 and found < 0.06


def test_specks_are_counted_on_even_ground_alone() -> None:
    grey = _ground()
    rng = np.random.default_rng(4)
    clean = look_at_capture(_page(grey))
    for _ in range(400):
        y, x = int(rng.integers(4, 896)), int(rng.integers(4, 1196))
        grey[y : y + 3, x : x + 2] += 60 * float(rng.choice([-1, 1]))
    dusty = look_at_capture(_page(grey))
    assert clean.specks == 0 and clean.even_px > 200_000
    expected = 400 * dusty.even_px / grey.size
    assert dusty.specks == pytest.approx(expected, rel=0.35)


def test_a_scan_too_small_for_strips_tells_no_banding() -> None:
    assert look_at_capture(_page(np.full((60, 60), 128.0))).banding is None
