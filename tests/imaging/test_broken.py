"""Broken ink along a line: flakes of bare paper all along, not print that crosses it, nor a soft light line."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.broken import broken

PAPER, INK = 235.0, 80.0


def band(px_per_mm: float, soft_mm: float, height: float, seed: int = 3) -> NDArray[np.float32]:
    """Dark ground 300 mm long; along its middle a light line .4 mm wide in stretches of 2 mm, half of them missing."""
    fine = 20.0
    rng = np.random.default_rng(seed)
    high, wide = round(300 * fine), round(18 * fine)
    laid = np.full((high, wide), INK, np.float32)
    there = rng.random(150) < 0.5
    for n in np.flatnonzero(there):
        laid[round(2 * n * fine) : round(2 * (n + 1) * fine), round(8.8 * fine) : round(9.2 * fine)] += height
    if soft_mm:
        laid = cv2.GaussianBlur(laid, (0, 0), soft_mm * fine)
    size = (round(18 * px_per_mm) | 1, round(300 * px_per_mm))
    seen = cv2.resize(laid, size, interpolation=cv2.INTER_AREA)
    return np.asarray(seen + rng.normal(0, 1.0, seen.shape), np.float32)


@pytest.mark.parametrize("px_per_mm", [2.5, 5.0])
def test_flakes_are_bare_and_no_wider_than_the_scan_could_show(px_per_mm: float) -> None:
    seen = broken(band(px_per_mm, 0.0, PAPER - INK), px_per_mm, PAPER)
    assert seen.bare > 0.7 and seen.width_mm < 0.45 and seen.length > 0.95


def test_a_soft_light_line_is_neither() -> None:
    """Softened by .35 mm, as in a fold photographed and printed again: 2.35 times that wide at half height, and dim."""
    seen = broken(band(5.0, 0.35, (PAPER - INK) * 0.55), 5.0, PAPER)
    assert seen.bare < 0.4 and seen.width_mm == pytest.approx(2.355 * np.hypot(0.35, 0.4 / 12**0.5), abs=0.25)


def test_print_that_crosses_the_line_speaks_for_its_own_stretch_alone() -> None:
    plain = band(5.0, 0.35, (PAPER - INK) * 0.3)
    crossed = plain.copy()  # rows of type over two fifths of it: more than a tenth of all rows are bright
    crossed[100:700] = np.where(np.arange(600)[:, None] // 3 % 3 == 0, PAPER, plain[100:700])
    assert broken(crossed, 5.0, PAPER).bare == pytest.approx(broken(plain, 5.0, PAPER).bare, abs=0.05)


def test_without_ground_that_could_break_nothing_is_told() -> None:
    seen = broken(np.full((1500, 91), PAPER, np.float32), 5.0, PAPER)
    assert seen.length == 0.0
