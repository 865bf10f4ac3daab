"""The working image: outlines in stored pixels, cloth left out, and negatives turned into positives."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from intake.config.check import CheckRules
from intake.config.render import RenderRules
from intake.imaging.original import open_original
from intake.imaging.page import Page
from intake.model import Box, PartKey
from intake.stages.check import check
from intake.stages.render import positive, render
from tests.imaging.pictures import Rgb, on_bed, save, scene
from tests.made import CONFIG, section

CHECK = section(CheckRules, CONFIG / "check.toml")
RULES = section(RenderRules, CONFIG / "render.toml")


def page_of(pixels: np.ndarray) -> Page:
    """The page of one part that fills these pixels; long edge at most 2048."""
    eight = pixels if pixels.dtype == np.uint8 else (pixels // 257).astype(np.uint8)
    deep = None if pixels.dtype == np.uint8 else pixels
    height, width = pixels.shape[:2]
    whole = Box(0, 0, width, height)

    def read(box: Box, longest_px: int | None) -> Rgb:
        assert longest_px is None
        return eight[box.top : box.top + box.height, box.left : box.left + box.width]

    return Page(PartKey("d", 1), whole, eight, deep, 1.0, whole, read)


def bordered(width: int, height: int, border: int) -> Rgb:
    piece = np.full((height, width, 3), (238, 234, 222), np.uint8)
    piece[border:-border, border:-border] = scene(width - 2 * border, height - 2 * border)
    return piece


def test_the_outline_is_in_stored_pixels_of_the_file(tmp_path: Path) -> None:
    scan, truth = on_bed(bordered(2400, 3200, 90), (118, 119, 121), (140, 120), 0.7, shadow=True)
    path = save(tmp_path / "sheet.png", scan)
    with open_original(path, CHECK, tmp_path) as original:
        (found,) = check(path, original, CHECK).parts
        page = original.page(PartKey("d", 1), found)
        rendered = render(page, RULES)
    assert page.working.shape[:2] == (rendered.height_px, rendered.width_px)
    assert max(rendered.width_px, rendered.height_px) == 2048
    assert rendered.stored_per_working == pytest.approx(3440 / 2048)
    # 0.3 % of the long edge: a hundred times finer than a format's tolerance needs, and more than its working pixel
    assert np.abs(np.array(rendered.outline) - truth).max() < 0.003 * 3200


def test_a_piece_that_fills_the_scan_has_no_outline() -> None:
    assert render(page_of(scene(900, 1200)), RULES).outline == ()


def test_the_print_in_a_sheets_own_margin_tells_it_from_a_bed() -> None:
    """A scan cut to the sheet: its white margin is no bed, for lines of small type stand in it."""
    sheet = bordered(900, 1200, 100)
    sheet[:] = np.where(sheet == (238, 234, 222), 238, sheet)
    for number in range(30):
        x = 120 + 22 * number
        sheet[1130:1145, x : x + 10] = 20
    assert render(page_of(sheet), RULES).outline == ()


@pytest.mark.parametrize("has_shadow", [False, True])
def test_creamy_ground_without_a_shadow_is_the_sheets_own_margin(has_shadow: bool) -> None:
    """Nothing is printed in the margin here. A piece on a bed throws a shadow on a side at least, a picture none."""
    scan, truth = on_bed(scene(700, 1000) // 3, (240, 235, 228), (60, 60), shadow=has_shadow)
    outline = render(page_of(scan), RULES).outline
    assert bool(outline) == has_shadow
    if outline:
        assert np.abs(np.array(outline) - truth).max() < 4


def test_what_tapers_is_print_and_no_piece() -> None:
    """A dark field in the print whose sides run together, as rays in a picture do."""
    sheet = np.full((1200, 900, 3), 120, np.uint8)
    cv2.fillPoly(sheet, [np.array([[150, 100], [750, 100], [690, 1100], [210, 1100]])], (20, 30, 60))
    assert render(page_of(sheet), RULES).outline == ()


def test_cloth_round_a_sheet_is_left_out() -> None:
    sheet = bordered(1100, 1500, 40)
    high, wide = 1700, 1300
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    rng = np.random.default_rng(0)
    weave = np.sin(2 * np.pi * x / 2.6) * np.sin(2 * np.pi * y / 2.6) * 7 + rng.normal(0, 2.0, (high, wide))
    cloth = np.clip(np.float32([226, 219, 203]) + weave[..., None], 0, 255)
    cloth[100:1600, 100:1200] = sheet
    scan, _ = on_bed(cloth.astype(np.uint8), (14, 14, 14), (60, 60))
    truth = np.array([[160, 160], [1260, 160], [1260, 1660], [160, 1660]])
    outline = render(page_of(scan), RULES).outline
    assert len(outline) == 4
    assert np.abs(np.array(outline) - truth).max() < 6


def negative_of(linear: np.ndarray, base: tuple[float, float, float], bits: int) -> np.ndarray:
    """A masked negative on a lamp by the straight line of the trade: slope 0.6, sRGB coded (IEC 61966-2-1)."""
    density = np.float32(base) + 0.6 * (np.log10(linear + 0.01) + 2.0)
    light = np.pad(10.0**-density, ((60, 60), (60, 60), (0, 0)), constant_values=1.0)
    light[40:-40, 40:-40] = np.where(light[40:-40, 40:-40] == 1.0, 10.0 ** -np.float32(base), light[40:-40, 40:-40])
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    peak = 2**bits - 1
    return (np.clip(coded, 0, 1) * peak + 0.5).astype(np.uint8 if bits == 8 else np.uint16)


@pytest.mark.parametrize("bits", [8, 16])
def test_the_positive_shows_the_subject_with_less_cast_than_plain_inversion(bits: int) -> None:
    """Base densities 0.2, 0.6, 0.9: red lets 5.0 times as much light through as blue (computed)."""
    subject = cv2.GaussianBlur(scene(600, 800, 9), (0, 0), 2.0)
    linear = ((subject / 255.0) ** 2.2).astype(np.float32)
    film = negative_of(linear, (0.2, 0.6, 0.9), bits)
    seen = positive(page_of(film), RULES)[60:-60, 60:-60].astype(np.float32)
    assert seen.shape == subject.shape
    for channel in range(3):
        # the same tones in the same order
        assert np.corrcoef(seen[..., channel].ravel(), subject[..., channel].ravel())[0, 1] > 0.95
    inverted = 255 - page_of(film).working[60:-60, 60:-60].astype(np.float32)
    assert cast(seen, subject) < cast(inverted, subject)


def cast(seen: np.ndarray, subject: np.ndarray) -> float:
    """How unequally the three channels' means are off."""
    return float(np.ptp(seen.mean(axis=(0, 1)) - subject.mean(axis=(0, 1))))


def test_type_beside_an_edge_does_not_draw_the_edge_to_it() -> None:
    """Edge print on a film on its lamp: darker than the base in some stretches of the side, as a shadow is in all."""
    film = np.full((1000, 1400, 3), 205, np.uint8)
    film[50:-50, 50:-50] = 120
    for number in range(18):
        film[200 + 20 * number : 213 + 20 * number, 8:20] = 70
    scan, truth = on_bed(film, (240, 240, 240), (60, 60), 0.4)
    assert np.abs(np.array(render(page_of(scan), RULES).outline) - truth).max() < 2.5
