"""Colour bars whose plates are moved by known amounts across the bar and along it, against what is told of them."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.config.screen import ScreenRules
from intake.imaging.colour_bar import find_bar, read_shifts
from intake.model import Rendered
from intake.services.printing import plots, printing_words, shifts_words
from intake.stages.screen import screen
from sample_batch.press import from_inks
from tests.made import CONFIG, section
from tests.ocr.pictures import Picture, page_of

RULES = section(ScreenRules, CONFIG / "screen.toml")
NAMES = ("cyan", "magenta", "yellow")
MM = 25.4
Shifts = NDArray[np.float64]


def bar(shifts: Shifts, ppi: float, skew: float = 0.0, upright: bool = False, side_mm: float = 8.0) -> Picture:
    """A proof's foot: solids, overprints and half tints in a row, each ink moved by (right, down) mm."""
    scale, finer = ppi / MM, 3
    size = round(140 * scale) * finer, round(50 * scale) * finer
    solid = np.eye(4, dtype=np.float32)
    steps = [*solid, solid[0] + solid[1], solid[1] + solid[2], solid[0] + solid[2], *(v * 0.5 for v in solid)]
    planes = []
    for ink in range(4):
        plane = np.zeros(size[::-1], np.float32)
        for number, step in enumerate(steps):
            left, top = (round((mm + 15) * scale * finer) for mm in (number * side_mm, 0))
            right = round((15 + (number + 1) * side_mm) * scale * finer)
            plane[top : top + round(side_mm * scale * finer), left:right] = step[ink]
        matrix = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), -skew, 1.0)
        matrix[:, 2] += shifts[ink] * scale * finer
        planes.append(cv2.warpAffine(plane, matrix, size))
    light = cv2.resize(from_inks(np.stack(planes, 2)), None, fx=1 / finer, fy=1 / finer, interpolation=cv2.INTER_AREA)
    noise = np.random.default_rng(3).normal(0, 0.01, light.shape)
    seen = np.clip((cv2.GaussianBlur(light * 0.97, (0, 0), 0.7) + noise) * 255, 0, 255).astype(np.uint8)
    return np.ascontiguousarray(seen.transpose(1, 0, 2)) if upright else seen


def moved(seed: int) -> Shifts:
    rng = np.random.default_rng(seed)
    return np.vstack([rng.normal(0, 0.15, (3, 2)), np.zeros((1, 2))])


@pytest.mark.parametrize(("ppi", "seed", "upright"), [(100, 1, False), (150, 2, True), (300, 3, False)])
def test_plates_are_told_apart_to_a_quarter_pixel(ppi: float, seed: int, upright: bool) -> None:
    shifts = moved(seed)
    picture = bar(shifts, ppi, skew=0.5 * (-1) ** seed, upright=upright)
    found = read_shifts(picture, find_bar(picture, 6, 300))
    assert [s.ink for s in found] and {s.ink for s in found} == set(NAMES)
    for one in found:
        true = shifts[NAMES.index(one.ink)][1] * ppi / MM
        assert abs(one.off_black_px - true) < 0.25


def test_the_stage_tells_shifts_in_mm_with_their_error() -> None:
    shifts = np.array([[0.3, 0.1], [0, -0.25], [0, 0], [0, 0]])
    picture = bar(shifts, 200)
    page = page_of(picture)
    seen = screen(
        page, Rendered(page.box, *page.working.shape[1::-1], page.stored_per_working), "printers_proof", 200.0, RULES
    )
    by_ink = {s.ink: s for s in seen.shifts}
    assert by_ink["cyan"].right_mm is None  # along the bar
    assert by_ink["magenta"].down_mm == pytest.approx(-0.25, abs=0.04)
    assert by_ink["yellow"].down_mm == pytest.approx(0, abs=0.04)
    assert all(0.02 < s.off_mm < 0.1 for s in seen.shifts)
    assert "magenta 0.2" in shifts_words(seen)
    drawn = plots(replace(seen, screens=()))
    assert [p.title for p in drawn] == ["Inks about black"]
    assert all(abs(d.x) <= 1 and abs(d.y) <= 1 for d in drawn[0].dots)


@pytest.mark.parametrize(
    ("ppi", "says"), [(None, "resolution is not known"), (60.0, "too coarse"), (200.0, "no colour bar")]
)
def test_what_is_not_told_says_why(ppi: float | None, says: str) -> None:
    blank = np.full((600, 900, 3), 235, np.uint8)
    page = page_of(blank)
    rendered = Rendered(page.box, 900, 600, 1.0)
    seen = screen(page, rendered, "printers_proof", ppi, RULES)
    assert not seen.shifts
    assert says in shifts_words(seen)
    assert shifts_words(screen(page, rendered, "finished_sheet", ppi, RULES)) == ""
    assert shifts_words(None) == printing_words(None) == ""
    assert plots(None) == ()


def test_patches_in_no_row_tell_nothing() -> None:
    picture = np.full((400, 900, 3), 240, np.uint8)
    for number, colour in enumerate(((0, 158, 219), (219, 13, 122), (250, 224, 13), (25, 25, 25))):
        picture[40 + 85 * number : 100 + 85 * number, 100 + 170 * number : 160 + 170 * number] = colour
    assert find_bar(picture, 6, 300) == ()
