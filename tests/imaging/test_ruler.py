"""A scale from drawn rulers, by the definition of the inch (25.4 mm exactly), and none from what is merely regular."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.ruler import find_rulers
from intake.imaging.ruler_lines import _fine
from intake.model import Box, Ruler
from tests.made import SETTINGS

RULES = SETTINGS.check.ruler
METRIC, SIXTEENTHS = (10, 5), (16, 8, 4, 2)


def _drawn(tick_px: float, steps: tuple[int, ...], ticks: int = 121, turn_deg: float = 0.0) -> NDArray[np.uint8]:
    """A white strip with black ticks on a grey ground, drawn eight times finer."""
    fine = 8
    high, wide = 90, int(ticks * tick_px) + 60
    strip = np.full((high * fine, wide * fine), 235, np.uint8)
    for n in range(ticks):
        rank = next((len(steps) - i for i, s in enumerate(steps) if n % s == 0), 0)
        x = round((30 + n * tick_px) * fine)
        strip[: (12 + 5 * rank) * fine, x - 4 : x + 5] = 25
    strip = cv2.resize(strip, (wide, high), interpolation=cv2.INTER_AREA)
    page = np.full((420, wide + 100), 120, np.uint8)
    page[200 : 200 + high, 50 : 50 + wide] = strip
    matrix = cv2.getRotationMatrix2D((page.shape[1] / 2, 210.0), turn_deg, 1.0)
    page = cv2.warpAffine(page, matrix, page.shape[::-1], flags=cv2.INTER_LINEAR, borderValue=120)
    noise = np.random.default_rng(5).normal(0, 1.5, page.shape)
    return np.repeat(np.clip(page + noise, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def _found(image: NDArray[np.uint8]) -> list[Ruler]:
    def read(box: Box, longest_px: int | None) -> NDArray[np.uint8]:
        seen = image[box.top : box.top + box.height, box.left : box.left + box.width]
        if longest_px is None or longest_px >= max(seen.shape[:2]):
            return seen
        share = longest_px / max(seen.shape[:2])
        size = (max(1, round(seen.shape[1] * share)), max(1, round(seen.shape[0] * share)))
        return np.asarray(cv2.resize(seen, size, interpolation=cv2.INTER_AREA), np.uint8)

    whole = Box(0, 0, image.shape[1], image.shape[0])
    return find_rulers(read(whole, 2048), whole, read, RULES)


@pytest.mark.parametrize(
    ("tick_px", "steps", "turn_deg", "name", "px_per_mm"),
    [
        (4.13, METRIC, 0.0, "millimetres", 4.13),
        (7.31, METRIC, 1.7, "millimetres", 7.31),
        (6.35, SIXTEENTHS, -1.2, "sixteenths of an inch", 6.35 / (25.4 / 16)),
        (12.0, (8, 4, 2), 0.4, "eighths of an inch", 12.0 / (25.4 / 8)),
    ],
)
def test_the_longer_ticks_tell_the_unit(
    tick_px: float, steps: tuple[int, ...], turn_deg: float, name: str, px_per_mm: float
) -> None:
    image = _drawn(tick_px, steps, turn_deg=turn_deg)
    for lies in (image, np.ascontiguousarray(image.transpose(1, 0, 2)), 255 - image):
        (ruler,) = _found(lies)
        assert ruler.graduation == name and ruler.ticks >= 110
        assert ruler.px_per_mm == pytest.approx(px_per_mm, rel=0.001) and ruler.off_share < 0.004


def test_a_ruler_larger_than_the_working_image_is_read_where_it_lies() -> None:
    """3,700 pixels wide: on the working image its ticks are two pixels apart and cannot be told."""
    image = _drawn(4.0, METRIC, ticks=900)
    (ruler,) = _found(image)
    assert ruler.ticks >= 890 and ruler.px_per_mm == pytest.approx(4.0, rel=0.0005)


@pytest.mark.parametrize("steps", [(121,), (4,), (7,), (10,), (6, 3), (9, 3)])
def test_ticks_that_no_ruler_has_give_no_scale(steps: tuple[int, ...]) -> None:
    assert _found(_drawn(5.2, steps)) == []


def test_too_few_ticks_give_no_scale() -> None:
    assert _found(_drawn(9.0, METRIC, ticks=24)) == []


def test_a_screen_gives_no_scale() -> None:
    y, x = np.mgrid[:600, :900]
    dots = 128 + 90 * np.sin(2 * np.pi * x / 6.0) * np.sin(2 * np.pi * y / 6.0)
    assert _found(np.repeat(dots.astype(np.uint8)[..., None], 3, axis=2)) == []


def test_spectra_are_asked_where_ticks_may_be_and_nowhere_in_noise() -> None:
    """What a search costs is how many windows are asked: nearly all along ticks, hardly one in noise."""
    rng = np.random.default_rng(3)
    ticks = cv2.cvtColor(_drawn(4.13, METRIC)[200:216], cv2.COLOR_RGB2GRAY).astype(np.float32)
    windows = (ticks.shape[1] - 128) // 64 + 1
    assert _fine(ticks, windows)[1:10, 1:-2].mean() > 0.9
    noise = (128 + rng.normal(0, 12, (200, 1024))).astype(np.float32)
    soft = cv2.GaussianBlur(noise, (0, 0), 8) * 6
    assert _fine(noise, 15).mean() < 0.02 and not _fine(soft, 15).any()
