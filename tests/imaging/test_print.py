"""What a process leaves beside and in a picture: screens, register marks, colour bars, margins, density."""

import cv2
import numpy as np
import pytest

from intake.imaging.density import density_table, light_table, to_code
from intake.imaging.halftone import find_screen
from intake.imaging.margin import count_inks, count_patches, find_margin, outside
from intake.imaging.registration import count_register_marks
from tests.imaging.pictures import scene


@pytest.mark.parametrize(("ppi", "lpi", "angle"), [(300, 65, 45), (300, 100, 15), (400, 120, 75)])
def test_a_synthetic_screen_is_found_with_its_ruling_and_angle(ppi: int, lpi: int, angle: int) -> None:
    """A round-dot screen computed at ppi / lpi pixels a line, over a slowly varying tone."""
    y, x = np.mgrid[0:256, 0:256].astype(np.float32)
    a, pitch = np.deg2rad(angle), ppi / lpi
    u, v = (x * np.cos(a) + y * np.sin(a)) / pitch, (y * np.cos(a) - x * np.sin(a)) / pitch
    spot = 0.5 + 0.25 * (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v))
    tone = 0.35 + 0.3 * x / 256
    dots = 255 * (1 - np.clip((tone - spot) * 6 + 0.5, 0, 1))
    screen = find_screen(dots.astype(np.uint8))
    assert screen.strength > 6000
    assert screen.period_px == pytest.approx(pitch, rel=0.04)
    assert min(abs(screen.angle_deg - angle), abs(screen.angle_deg - (90 - angle))) < 4


def test_a_continuous_tone_has_no_screen() -> None:
    grey = cv2.cvtColor(scene(256, 256, 5), cv2.COLOR_RGB2GRAY)
    assert find_screen(grey).strength < 2000


def register(grey: np.ndarray, x: int, y: int, half: int) -> None:
    cv2.circle(grey, (x, y), round(half * 0.45), 20, 1, cv2.LINE_AA)
    cv2.line(grey, (x - half, y), (x + half, y), 20, 1)
    cv2.line(grey, (x, y - half), (x, y + half), 20, 1)


def test_register_marks_are_counted_and_print_is_not() -> None:
    grey = np.full((120, 900), 238, np.uint8)
    mask = np.ones(grey.shape, bool)
    for number, word in enumerate(["PRINTED BY", "HARL & SONS LTD", "JOB 4471"]):
        cv2.putText(grey, word, (20 + 280 * number, 60), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 20, 1, cv2.LINE_AA)
    assert count_register_marks(grey, mask, (9, 12, 15)) == 0
    for x in (200, 560, 860):
        register(grey, x, 60, 12)
    assert count_register_marks(grey, mask, (9, 12, 15)) == 3


def sheet_with_margin() -> np.ndarray:
    sheet = np.full((800, 600, 3), (242, 240, 232), np.uint8)
    sheet[60:700, 50:550] = scene(500, 640, 3)
    return sheet


def test_margin_and_colour_bar() -> None:
    sheet = sheet_with_margin()
    margin = find_margin(sheet)
    assert np.abs(np.array(margin.depths) - (50, 60, 50, 100)).max() <= 2
    assert margin.even > 0.95
    mask = outside(margin, 5)
    assert count_inks(sheet, mask) == 0
    for number, ink in enumerate([(0, 158, 219), (219, 13, 122), (250, 224, 13), (26, 26, 26)]):
        sheet[730:748, 300 + number * 18 : 318 + number * 18] = ink
    assert count_inks(sheet, outside(find_margin(sheet), 5)) == 3


def test_patches_of_a_target() -> None:
    card = np.full((500, 700, 3), 118, np.uint8)
    rng = np.random.default_rng(2)
    for row in range(3):
        for column in range(10):
            card[40 + row * 70 : 90 + row * 70, 30 + column * 64 : 80 + column * 64] = rng.integers(0, 255, 3)
    assert count_patches(card) >= 25
    assert count_patches(cv2.GaussianBlur(scene(700, 500), (0, 0), 9.0)) < 5


def test_density_tables() -> None:
    """sRGB (IEC 61966-2-1): code 188 of 255 is about half the light of white; half the light is density 0.301."""
    light = light_table(np.dtype(np.uint8))
    assert light[0] == 0 and light[255] == pytest.approx(1.0)
    assert light[188] == pytest.approx(0.5, abs=0.004)
    assert density_table(np.dtype(np.uint16))[(188 * 257)] == pytest.approx(0.301, abs=0.004)
    assert np.array_equal(to_code(light), np.arange(256))
