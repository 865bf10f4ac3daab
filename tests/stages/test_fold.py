"""Folds and skew, on sheets printed and folded by the sample batch's own painter."""

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.config.fold import FoldRules
from intake.config.render import RenderRules
from intake.imaging.broken import beside_rule, broken
from intake.imaging.page import Page
from intake.imaging.skew import skew_of_lines, skew_of_outline
from intake.model import Box, Folded, PartKey
from intake.services.folds import pattern
from intake.stages.fold import fold
from intake.stages.render import render
from sample_batch.page import Page as Sheet
from sample_batch.scanner import Setting, scan
from sample_batch.wear import Wear, age
from tests.made import CONFIG, checked, classified, section

RULES = section(FoldRules, CONFIG / "fold.toml")
RENDER = section(RenderRules, CONFIG / "render.toml")
PPI = 80.0
SIZE_MM = (508, 762)


def sheet(border_mm: float = 15, rule_mm: float = 0) -> Sheet:
    """A sheet with white borders, a mottled picture with a dark panel, and a few rows of type; a white rule across the
    picture's middle when it has a width."""
    rng = np.random.default_rng(5)
    wide, high = (round(mm * PPI / 25.4) for mm in SIZE_MM)
    pixels = np.full((high, wide, 3), (0.955, 0.945, 0.91), np.float32)
    edge = round(border_mm * PPI / 25.4)
    blobs = cv2.resize(
        rng.uniform(0.1, 0.75, (24, 16, 3)).astype(np.float32), (wide, high), interpolation=cv2.INTER_CUBIC
    )
    blobs[round(0.72 * high) :] *= 0.5
    blobs += rng.normal(0, 0.02, blobs.shape[:2])[..., None].astype(np.float32)
    pixels[edge:-edge, edge:-edge] = blobs[edge:-edge, edge:-edge]
    for row in range(5):
        y = round((0.78 + 0.03 * row) * high)
        for x in range(2 * edge, wide - 2 * edge, 9):
            pixels[y : y + 9, x : x + int(rng.integers(2, 7))] = 0.93
    half = round(rule_mm * PPI / 25.4 / 2)
    pixels[high // 2 - half : high // 2 + half, edge:-edge] = 0.94
    return Sheet(np.clip(pixels, 0, 1), PPI)


def scanned(wear: Wear, piece: Sheet | None = None, **setting: object) -> Page:
    """The sheet after ``wear``, on a grey bed."""
    bed = Setting(**{"bed": "grey", "margin_mm": 12.0, "noise": 0.003, "seed": 3, **setting})  # type: ignore[arg-type]
    pixels = np.clip(scan([age(piece or sheet(), wear)], bed).pixels * 255 + 0.5, 0, 255).astype(np.uint8)
    return page_of(pixels)


def page_of(pixels: NDArray[np.uint8]) -> Page:
    """A page whose working image is its stored one."""
    high, wide = pixels.shape[:2]

    def read(box: Box, longest_px: int | None) -> NDArray[np.uint8]:
        cut = pixels[box.top : box.top + box.height, box.left : box.left + box.width]
        factor = min(1.0, longest_px / max(cut.shape[:2])) if longest_px else 1.0
        return np.asarray(cv2.resize(cut, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA), np.uint8)

    whole = Box(0, 0, wide, high)
    return Page(PartKey("0" * 64, 1), whole, pixels, None, 1.0, whole, read)


def told(page: Page, kind: str = "finished_sheet", ppi: float | None = PPI) -> Folded:
    return fold(page, render(page, RENDER), classified(kind), replace(checked(), ppi=ppi), RULES)


@pytest.mark.parametrize(
    ("panels", "named"), [((2, 4), "1 + 3 in eighths"), ((1, 3), "0 + 2 in thirds"), ((2, 2), "1 + 1 in quarters")]
)
def test_folds_are_counted_and_named(panels: tuple[int, int], named: str) -> None:
    folded = told(scanned(Wear(panels, 0.5, seed=4)))
    assert pattern(folded, 0) == named
    assert not folded.findings and all(line.probability > 0.5 for line in folded.lines)
    down = panels[1]
    places = sorted(line.at for line in folded.lines if line.axis == "y")
    assert places == pytest.approx([n / down for n in range(1, down)], abs=0.006)


def test_a_sheet_on_its_side_is_named_upright() -> None:
    folded = told(scanned(Wear((1, 3), 0.5, seed=4), rotation=90))
    assert pattern(folded, 90) == "0 + 2 in thirds" and pattern(folded, 0) == "2 + 0 in thirds"


def test_a_flat_sheet_shows_none_though_a_panel_and_type_run_across_it() -> None:
    folded = told(scanned(Wear(toning=0.4, stains=0.5, seed=8)))
    assert folded.looked and folded.lines == () and pattern(folded, 0) == "no folds seen"


def test_a_fold_along_a_white_rule_is_told_by_the_narrow_borders() -> None:
    """The rule hides broken ink and is alike all along; shading on both borders tells a fold from it."""
    ruled = sheet(border_mm=6, rule_mm=1.3)
    folded = told(scanned(Wear((1, 2), 0.5, seed=4), ruled))
    assert [(line.axis, line.printed) for line in folded.lines] == [("y", False)]
    assert "beside that" in folded.lines[0].words
    assert told(scanned(Wear(toning=0.4, seed=8), ruled)).lines == ()
    printed = told(scanned(Wear((1, 2), 0.5, printed_folds=True, seed=4), ruled))
    assert not any(not line.printed for line in printed.lines)


@pytest.mark.parametrize("scale", [1.2, 2.3, 3.0, 5.0])
@pytest.mark.parametrize("rule_mm", [0.6, 4.0, 6.0])
def test_what_is_left_beside_a_rule_can_be_looked_at_at_any_scale(scale: float, rule_mm: float) -> None:
    laid = np.full((200, 2 * round(9 * scale) + 1), 60, np.float32)
    half = max(1, round(rule_mm * scale / 2))
    middle = laid.shape[1] // 2
    laid[:, middle - half : middle + half + 1] = 235
    laid = np.asarray(cv2.GaussianBlur(laid, (0, 0), 0.7 * scale), np.float32)
    left = beside_rule(laid, scale, 240)
    assert left is None or broken(left, scale, 240).open < 0.1
    if scale > 2 and rule_mm != 4.0:  # that one reaches as far as is looked
        assert (left is None) == (rule_mm > 4.0)


def test_a_light_fold_of_finest_lines_is_no_printed_one() -> None:
    folded = told(scanned(Wear((1, 2), 0.15, seed=5)))
    assert [(line.axis, line.printed) for line in folded.lines] == [("y", False)]


def test_folds_that_are_printed_in_are_no_folds() -> None:
    folded = told(scanned(Wear((2, 4), 0.6, printed_folds=True, seed=4)))
    assert pattern(folded, 0) == "no folds seen; printed in: 1 + 3 in eighths"
    (finding,) = folded.findings
    assert (finding.code, finding.severity) == ("printed_folds", "attention")
    assert "differs from" in finding.message


def test_without_resolution_the_sheet_is_taken_to_be_of_common_size() -> None:
    assert pattern(told(scanned(Wear((2, 2), 0.6, seed=4)), ppi=None), 0) == "1 + 1 in quarters"


def test_what_is_not_folded_is_not_looked_at() -> None:
    page = scanned(Wear((2, 2), 0.6, seed=4))
    for kind in ("film_negative", "target", "reverse", "unknown"):
        folded = told(page, kind)
        assert not folded.looked and folded.lines == () and pattern(folded, 0) == ""


@pytest.mark.parametrize("angle", [-1.3, 0.0, 0.72])
def test_skew_is_the_turn_of_the_outline(angle: float) -> None:
    """The painter turns counter-clockwise (OpenCV's getRotationMatrix2D); skew is given clockwise."""
    assert told(scanned(Wear(), angle_deg=angle)).skew_deg == pytest.approx(-angle, abs=0.06)


def test_skew_of_corners() -> None:
    """arctan(10 / 1000) is 0.573 degrees."""
    square = np.array([[0, 0], [1000, 10], [990, 1010], [-10, 1000]], np.float64)
    assert skew_of_outline(square, 10) == pytest.approx(np.degrees(np.arctan(0.01)), abs=0.005)
    assert skew_of_outline(square @ np.array([[0.8, 0.6], [-0.6, 0.8]]), 10) is None


@pytest.mark.parametrize("angle", [-2.0, 0.0, 0.8])
def test_skew_of_lines_where_the_piece_fills_the_scan(angle: float) -> None:
    pixels = (sheet().pixels * 255).astype(np.uint8)
    high, wide = pixels.shape[:2]
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), -angle, 1.0)
    turned = np.asarray(cv2.warpAffine(pixels, turn, (wide, high), borderMode=cv2.BORDER_REPLICATE), np.uint8)
    assert skew_of_lines(turned, 10) == pytest.approx(angle, abs=0.1)


@pytest.mark.parametrize("make", [np.zeros, np.ones])
def test_nothing_on_it_tells_nothing(make: Callable[..., NDArray[np.float64]]) -> None:
    folded = told(page_of((make((300, 200, 3)) * 200).astype(np.uint8)))
    assert folded.lines == () and folded.skew_deg is None
    tiny = told(page_of(np.full((3, 2, 3), 90, np.uint8)))
    assert tiny.lines == ()


def test_the_same_scan_tells_the_same() -> None:
    page = scanned(Wear((2, 2), 0.3, seed=4))
    assert told(page) == told(page)
