"""The edge of a piece, several pieces on one scan, and focus: pictures with known geometry."""

import cv2
import numpy as np
import pytest

from intake.config.check import CheckRules
from intake.imaging.bed import find_bed, not_bed
from intake.imaging.focus import edge_width_px
from intake.imaging.outline import find_things, four_sides, ordered, snap
from intake.imaging.pieces import find_pieces
from intake.model import Box
from tests.imaging.pictures import Rgb, on_bed, scene
from tests.made import CONFIG, section

CHECK = section(CheckRules, CONFIG / "check.toml")


def bordered(width: int, height: int, border: int = 30, paper: int = 236) -> Rgb:
    piece = np.full((height, width, 3), paper, np.uint8)
    piece[border:-border, border:-border] = scene(width - 2 * border, height - 2 * border)
    return piece


@pytest.mark.parametrize("bed", [(12, 12, 12), (118, 120, 122), (241, 242, 243)])
@pytest.mark.parametrize("angle", [0.0, 0.8, -1.4])
def test_corners_are_found_on_any_bed(bed: tuple[int, int, int], angle: float) -> None:
    scan, truth = on_bed(bordered(700, 900), bed, (60, 50), angle, shadow=min(bed) > 20)
    found_bed = find_bed(scan, 0.3, 10.0, 16.0)
    assert found_bed is not None
    things = find_things(not_bed(scan, found_bed, 10.0), 1000)
    hull = cv2.convexHull(max(things, key=lambda t: t.box_area).contour)[:, 0, :]
    corners = four_sides(hull)
    assert corners is not None
    assert np.abs(snap(scan, corners, 14, 2) - truth).max() < 2.5


def test_a_torn_corner_does_not_move_the_others() -> None:
    piece = bordered(700, 900)
    scan, truth = on_bed(piece, (12, 12, 12), (60, 50))
    cv2.fillPoly(scan, [np.array([[60, 50], [170, 50], [60, 190]])], (12, 12, 12))
    bed = find_bed(scan, 0.3, 10.0)
    assert bed is not None
    corners = four_sides(find_things(not_bed(scan, bed, 10.0), 1000)[0].contour)
    assert corners is not None
    assert np.abs(corners - truth).max() < 2.5


def test_an_uneven_bed_is_still_a_bed() -> None:
    scan, _ = on_bed(bordered(600, 800), (118, 118, 118), (80, 80))
    y, x = np.mgrid[-1 : 1 : scan.shape[0] * 1j, -1 : 1 : scan.shape[1] * 1j]
    lit = np.clip(scan + (14 * x * x - 10 * y * x + 8 * y)[..., None], 0, 255).astype(np.uint8)
    bed = find_bed(lit, 0.3, 10.0)
    assert bed is not None and bed.spread < 4
    thing = find_things(not_bed(lit, bed, 10.0), 1000)[0]
    assert (abs(thing.left - 80), abs(thing.bottom - 880)) <= (3, 3)


def test_ordered_corners_begin_at_the_top_left() -> None:
    square = np.array([[10.0, 90.0], [90.0, 90.0], [90.0, 10.0], [10.0, 10.0]])
    assert ordered(square).tolist() == [[10, 10], [90, 10], [90, 90], [10, 90]]


def lamp(places: list[tuple[int, int]], size: tuple[int, int], bed: int = 251) -> Rgb:
    ground = np.full((900, 1200, 3), bed, np.uint8)
    for number, (x, y) in enumerate(places):
        piece = np.full((size[1], size[0], 3), 4, np.uint8)
        piece[16:-16, 16:-16] = scene(size[0] - 32, size[1] - 32, number)
        ground[y : y + size[1], x : x + size[0]] = piece
    return ground


def test_four_transparencies_are_four_parts_in_reading_order() -> None:
    places = [(90, 70), (640, 84), (100, 480), (632, 470)]
    scan = lamp(places, (420, 330))
    boxes = find_pieces(scan, Box(0, 0, 3600, 2700), CHECK)
    assert len(boxes) == 4
    for box, (x, y) in zip(boxes, places, strict=True):
        assert box.left <= 3 * x and box.top <= 3 * y
        assert box.left + box.width >= 3 * (x + 420) and box.top + box.height >= 3 * (y + 330)
        assert box.width < 3 * 420 * 1.08 and box.height < 3 * 330 * 1.08


def test_one_sheet_with_two_pictures_stays_one_part() -> None:
    """Two pictures on one sheet with type between them are not two pieces."""
    scan = np.full((1000, 700, 3), 240, np.uint8)
    scan[60:440, 60:640] = scene(580, 380, 1)
    scan[520:900, 60:640] = scene(580, 380, 2)
    for row in range(920, 980, 14):
        for x in range(80, 620, 9):
            scan[row : row + 9, x : x + 6] = 30
    assert find_pieces(scan, Box(0, 0, 700, 1000), CHECK) == (Box(0, 0, 700, 1000),)
    assert find_pieces(scene(700, 1000), Box(0, 0, 700, 1000), CHECK) == (Box(0, 0, 700, 1000),)


@pytest.mark.parametrize("sigma", [1.5, 3.0, 5.0])
def test_blur_of_a_slanted_edge_is_measured(sigma: float) -> None:
    """A computed edge, 5 degrees off upright as in ISO 12233 charts, blurred by a Gaussian of known width."""
    y, x = np.mgrid[0:300, 0:300].astype(np.float32)
    edge = 60 + 130 * np.clip(x - 150 + (y - 150) * np.tan(np.deg2rad(5)) + 0.5, 0, 1)
    blurred = cv2.GaussianBlur(edge, (0, 0), sigma)
    noise = np.random.default_rng(4).normal(0, 1.0, blurred.shape)
    width = edge_width_px(np.clip(blurred + noise, 0, 255).astype(np.uint8))
    assert width == pytest.approx(sigma, rel=0.15)


def test_an_even_tone_has_no_edge_to_measure() -> None:
    grey = np.clip(np.random.default_rng(1).normal(128, 1.5, (200, 200)), 0, 255).astype(np.uint8)
    assert edge_width_px(grey) is None


def papers(gap: int, bed: tuple[int, int, int] = (236, 238, 243)) -> Rgb:
    """Two cream papers side by side on a bluish bed; the shadow of the left one covers half of the gap, and all of it
    along the upper third."""
    scan = np.full((620, 940, 3), bed, np.uint8)
    for left in (40, 440 + gap):
        scan[40:580, left : left + 400] = (243, 240, 226)
        for row in range(120, 320, 16):
            scan[row : row + 5, left + 60 : left + 300] = 60
    dark = (np.array(bed) * 0.86).astype(np.uint8)
    scan[44:580, 440 : 440 + gap // 2] = dark
    scan[44:220, 440 : 440 + gap] = dark
    return np.asarray(cv2.GaussianBlur(scan, (0, 0), 0.7), np.uint8)


def test_papers_joined_by_a_shadow_are_two_parts() -> None:
    boxes = find_pieces(papers(12), Box(0, 0, 940, 620), CHECK)
    assert [box.left >= 440 for box in boxes] == [False, True]
    assert all(400 <= box.width <= 440 for box in boxes)


def test_pictures_on_a_page_of_the_beds_own_hue_stay_one_part() -> None:
    """A grey page on a white bed looks like a shadow: the two photographs on it are not all that lies there."""
    scan = np.full((900, 700, 3), 240, np.uint8)
    scan[60:840, 60:640] = 222
    scan[120:400, 120:580] = scene(460, 280, 1)
    scan[480:760, 120:580] = scene(460, 280, 2)
    assert find_pieces(scan, Box(0, 0, 700, 900), CHECK) == (Box(0, 0, 700, 900),)
