"""A strip pasted on a sheet, told by its shadow, its paper and its lie; a printed panel is none."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.snipes import find_snipes
from intake.imaging.straight import level_lines, turns
from intake.model import Box, Sniped, Strip
from tests.made import SETTINGS

RULES = SETTINGS.snipe


def _sheet(shadow: bool, turn: float, paper: tuple[int, int, int]) -> NDArray[np.uint8]:
    rng = np.random.default_rng(4)
    page = np.full((900, 640, 3), (240, 236, 222), np.float32)
    blotches = cv2.resize(
        rng.uniform(30, 200, (30, 20, 3)).astype(np.float32), (580, 840), interpolation=cv2.INTER_CUBIC
    )
    page[30:870, 30:610] = blotches
    strip = np.zeros((900, 640), np.float32)
    cv2.fillConvexPoly(strip, cv2.boxPoints(((320.0, 600.0), (420.0, 48.0), turn)).round().astype(np.int32), 1)
    if shadow:
        dark = cv2.GaussianBlur(np.roll(strip, (3, 3), (0, 1)), (0, 0), 1.5) * (1 - strip)
        page *= (1 - 0.5 * dark)[..., None]
    page[strip > 0] = paper
    return np.clip(page + rng.normal(0, 2, page.shape), 0, 255).astype(np.uint8)


def test_a_strip_with_a_shadow_that_lies_askew_is_found() -> None:
    (told,) = find_snipes(_sheet(True, 0.9, (232, 200, 70)), RULES)
    left, top, wide, high = told.box
    assert abs(left + wide / 2 - 320) < 15 and abs(top + high / 2 - 600) < 12 and wide > 380
    assert "shadow" in told.words


def test_a_printed_panel_of_the_sheets_own_paper_is_none() -> None:
    assert find_snipes(_sheet(False, 0.0, (240, 236, 222)), RULES) == []


def test_a_strip_that_throws_no_shadow_is_told_by_its_lie() -> None:
    (told,) = find_snipes(_sheet(False, 1.1, (232, 200, 70)), RULES)
    assert "askew" in told.words and "shadow" not in told.words


def test_a_strip_up_the_side_is_found_as_well() -> None:
    turned = np.ascontiguousarray(np.rot90(_sheet(True, 0.9, (232, 200, 70))))
    (told,) = find_snipes(turned, RULES)
    left, top, wide, high = told.box
    assert high > 380 and abs(left + wide / 2 - 600) < 12 and abs(top + high / 2 - 320) < 15


def test_a_panel_that_is_slanted_for_good_is_printed() -> None:
    assert find_snipes(_sheet(False, 3.4, (232, 200, 70)), RULES) == []


def test_a_line_that_is_interrupted_is_one_line_and_a_slanted_one_is_none() -> None:
    pieces = np.array([[10, 100, 60, 101], [90, 101.6, 160, 103], [200, 103.8, 240, 104.6], [10, 300, 60, 330]])
    (line,) = level_lines(pieces, 4.0)
    assert line[0] == 10 and line[2] == 240 and abs(float(turns(line[None])[0]) - 1.146) < 0.03  # atan(1 / 50)


def test_a_sheet_with_nothing_on_it_has_no_strips() -> None:
    assert find_snipes(np.full((40, 30, 3), 200, np.uint8), RULES) == []
    assert find_snipes(np.full((700, 500, 3), 200, np.uint8), RULES) == []


def test_a_mark_stands_on_a_strip_by_its_middle_and_only_where_the_strip_is_sure() -> None:
    sure = Strip(Box(100, 100, 200, 50), 0.9, True, "")
    unsure = Strip(Box(100, 300, 200, 50), 0.6, False, "")
    told = Sniped((sure, unsure))
    assert told.bears(Box(250, 110, 40, 20)) and not told.bears(Box(290, 110, 40, 20))
    assert not told.bears(Box(150, 310, 20, 20))
