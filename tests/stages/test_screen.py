"""Screens of known ruling and angle, drawn by formula, against what is told of them.

Ruling and angle after ISO 12647-1 (rows of dots to the inch; the direction of the rows), 30 degrees between cyan,
magenta and black after ISO 12647-2. The dots are those of a round-dot screen: ink where the tint exceeds
0.5 + (cos 2 pi u + cos 2 pi v) / 4.
"""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.config.screen import ScreenRules
from intake.imaging.screens import find_lattices, spectrum
from intake.model import Rendered, Screened
from intake.services.printing import printing_words
from intake.stages.screen import screen
from tests.made import CONFIG, section
from tests.ocr.pictures import Picture, page_of

RULES = section(ScreenRules, CONFIG / "screen.toml")
INK = {"cyan": (1, 0, 0), "magenta": (0, 1, 0), "yellow": (0, 0, 1), "black": (1, 1, 1)}
SET = {"cyan": 15.0, "magenta": 75.0, "yellow": 0.0, "black": 45.0}


def dots(high: int, wide: int, period: float, angle: float, tint: float | NDArray[np.float32]) -> NDArray[np.float32]:
    """Cover of one ink; the rows run ``angle`` degrees anticlockwise from the right."""
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    a = np.radians(-angle)
    u, v = (x * np.cos(a) + y * np.sin(a)) / period, (y * np.cos(a) - x * np.sin(a)) / period
    spot = 0.5 + 0.25 * (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v))
    return np.clip((tint - spot) * period * 0.9 + 0.5, 0, 1).astype(np.float32)


def printed(period: float, inks: dict[str, float], tint: float | NDArray[np.float32] = 0.45) -> NDArray[np.float32]:
    """A sheet in these inks, 0 to 1."""
    light = np.full((1300, 1100, 3), 0.95, np.float32)
    for ink, angle in inks.items():
        cover = dots(1300, 1100, period, angle, tint)[..., None]
        light *= 1 - 0.8 * cover * np.float32(INK[ink])
    return light


def scanned(light: NDArray[np.float32], seed: int = 1) -> Picture:
    soft = cv2.GaussianBlur(light, (0, 0), 0.6) + np.random.default_rng(seed).normal(0, 0.01, light.shape)
    return np.clip(soft * 255, 0, 255).astype(np.uint8)


def clouds(seed: int) -> NDArray[np.float32]:
    """A picture without any rows: noise, blurred."""
    noise = np.random.default_rng(seed).random((1300, 1100, 3)).astype(np.float32)
    return np.clip(0.5 + (cv2.GaussianBlur(noise, (0, 0), 4) - 0.5) * 8, 0, 1)


def told(picture: Picture, ppi: float | None, kind: str = "finished_sheet") -> Screened:
    page = page_of(picture)
    return screen(page, Rendered(page.box, *picture.shape[1::-1], 1.0), kind, ppi, RULES)


@pytest.mark.parametrize("angle", [0.0, 7.5, 15.0, 45.0, 62.0, 75.0, 89.0])
@pytest.mark.parametrize(("lpi", "ppi"), [(65, 300), (120, 300), (133, 400), (175, 600)])
def test_ruling_and_angle_of_one_ink_are_told(lpi: float, ppi: float, angle: float) -> None:
    got = told(scanned(printed(ppi / lpi, {"black": angle})), ppi)
    (only,) = got.screens
    assert got.tone == "screened" and got.lpi == only.lpi
    assert only.lpi == pytest.approx(lpi, rel=0.005)
    away = abs(only.angle_deg - angle) % 90
    assert min(away, 90 - away) < 0.5


def test_the_four_screens_of_a_colour_print_are_told_with_their_inks() -> None:
    got = told(scanned(printed(400 / 133, SET)), 400)
    found = {s.ink: s.angle_deg for s in got.screens}
    assert got.tone == "screened" and set(found) == {"cyan", "magenta", "yellow", ""}
    for ink, angle in SET.items():
        away = abs(found[ink if ink != "black" else ""] - angle) % 90
        assert min(away, 90 - away) < 0.5
    assert "cyan 133 lines an inch at 15°" in printing_words(got)


def test_the_outcome_does_not_need_a_resolution() -> None:
    got = told(scanned(printed(4.0, {"black": 45.0})), None)
    assert (got.tone, got.lpi, got.limit_lpi) == ("screened", None, None)
    assert got.screens[0].period_px == pytest.approx(4.0, rel=0.005)
    assert "dots every 4.0 px" in printing_words(got)


def test_a_screen_over_a_screen_is_told() -> None:
    first = cv2.GaussianBlur(printed(400 / 100, SET), (0, 0), 0.9)
    again = np.full_like(first, 0.95)
    for ink, angle in SET.items():
        took = 1 - first[..., {"cyan": 0, "magenta": 1, "yellow": 2}.get(ink, 1)]
        again *= 1 - 0.8 * dots(1300, 1100, 400 / 133, angle, took)[..., None] * np.float32(INK[ink])
    got = told(scanned(again), 400)
    assert got.tone == "rescreened" and [f.code for f in got.findings] == ["rescreened"]
    assert {round(s.lpi or 0) for s in got.screens} == {100, 133}


def test_no_screen_is_continuous_tone_only_where_the_scan_would_show_one() -> None:
    blobs = clouds(3)
    fine, coarse = told(scanned(blobs), 600), told(scanned(blobs), 200)
    assert (fine.tone, coarse.tone, coarse.limit_lpi) == ("continuous", "", 80.0)
    assert printing_words(coarse) == "no screen seen; this scan shows screens up to 80 lines an inch"
    assert "continuous tone" in printing_words(fine)


@pytest.mark.parametrize("quality", [40, 75, 95])
def test_the_blocks_of_a_jpeg_are_no_screen(quality: int) -> None:
    packed = cv2.imencode(".jpg", scanned(clouds(4)), [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    assert told(cv2.imdecode(packed, cv2.IMREAD_COLOR), 600).tone == "continuous"


@pytest.mark.parametrize("shape", [(1, 1), (20, 9000), (100, 100)])
def test_what_is_too_small_tells_nothing(shape: tuple[int, int]) -> None:
    assert told(np.full((*shape, 3), 128, np.uint8), 300) == Screened("", None, None, ())


def test_kinds_that_are_not_printed_are_left_out() -> None:
    assert told(scanned(printed(4.0, {"black": 45.0})), 400, kind="target").tone == ""


def test_flat_and_empty_spectra_hold_no_lattice() -> None:
    flat = [np.full((256, 256), 90, np.uint8)]
    assert find_lattices(spectrum(flat), 10) == []
