"""A strip pasted on a sheet, told by its shadow, its paper and its lie; a printed panel is none."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.snipes import find_snipes
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


def test_a_mark_stands_on_a_strip_by_its_middle_and_only_where_the_strip_is_sure() -> None:
    sure = Strip(Box(100, 100, 200, 50), 0.9, True, "")
    unsure = Strip(Box(100, 300, 200, 50), 0.6, False, "")
    told = Sniped((sure, unsure))
    assert told.bears(Box(250, 110, 40, 20)) and not told.bears(Box(290, 110, 40, 20))
    assert not told.bears(Box(150, 310, 20, 20))
