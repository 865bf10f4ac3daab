"""Worn places, on a sheet with damage of known shape and place."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from intake.config.condition import ConditionRules
from intake.imaging.blots import dots
from intake.model import Condition, Folded, FoldLine
from intake.stages.condition import condition, propose
from intake.stages.render import render
from sample_batch.page import Page as Sheet
from sample_batch.scanner import Setting, scan
from sample_batch.wear import Wear, age
from tests.bench.condition import meets
from tests.bench.condition_damage import _cut, fold_loss
from tests.made import CONFIG, checked, classified, section
from tests.stages.test_fold import RENDER, page_of

PPI = 80.0
RULES = section(ConditionRules, CONFIG / "condition.toml")
CHECKED = replace(checked(), ppi=PPI)
FLAT = Folded(0.0, True)


def sheet() -> Sheet:
    """A small sheet with white borders of 15 mm and a mottled picture."""
    rng = np.random.default_rng(5)
    wide, high, edge = (round(mm * PPI / 25.4) for mm in (260, 380, 15))
    pixels = np.full((high, wide, 3), (0.955, 0.945, 0.91), np.float32)
    blobs = cv2.resize(rng.uniform(0.1, 0.75, (12, 8, 3)).astype(np.float32), (wide, high))
    blobs += rng.normal(0, 0.02, blobs.shape[:2])[..., None].astype(np.float32)
    pixels[edge:-edge, edge:-edge] = blobs[edge:-edge, edge:-edge]
    return Sheet(np.clip(pixels, 0, 1), PPI)


def looked_at(page: Sheet, bed: str = "grey", folded: Folded = FLAT) -> tuple[list[str], set[str], list[bool]]:
    """The sorts named on a scan of the sheet, those looked for, and whether each planted one was named."""
    scanned = scan([page], Setting(bed=bed, margin_mm=12.0, noise=0.003, seed=3))
    seen = page_of(np.clip(scanned.pixels * 255 + 0.5, 0, 255).astype(np.uint8))
    found, looked = propose(seen, render(seen, RENDER), folded, CHECKED, RULES)
    planted = scanned.parts[0].page.added.items()
    hits = [any(p.sort == n.rsplit("-", 1)[0] and meets(p.box, b, 12) for p in found) for n, b in planted]
    return [p.sort for p in found], set(looked), hits


def cut(*points_mm: tuple[float, float], sort: str) -> Sheet:
    """The sheet with a polygon (mm from its top left) torn out."""
    return _cut(sheet(), np.random.default_rng(1), np.array(points_mm) * PPI / 25.4, sort)


TORN = {
    "missing_corner": ((-1, -1), (30, -1), (-1, 22)),
    "missing_paper": ((-1, 120), (9, 126), (11, 140), (7, 152), (-1, 156)),
    "tear": ((120, -1), (124, -1), (128, 20), (126, 45), (125, 45), (123, 20)),
}


@pytest.mark.parametrize(("sort", "bed"), [("missing_corner", "grey"), ("missing_paper", "black"), ("tear", "grey")])
def test_paper_that_is_gone_is_named_where_it_is_gone(sort: str, bed: str) -> None:
    assert looked_at(cut(*TORN[sort], sort=sort), bed)[::2] == ([sort], [True])


def test_small_chips_along_an_edge_are_edge_wear() -> None:
    page = sheet()
    for at in (60, 74, 90, 101, 120):
        points = np.array([(-1, at), (2.2, at + 1.5), (2.4, at + 3), (-1, at + 4.5)]) * PPI / 25.4
        page = replace(_cut(page, np.random.default_rng(at), points, "chip"), added={})
    page = replace(page, added={"edge_wear-0": (0.0, 60 * PPI / 25.4, 8.0, 124 * PPI / 25.4)})
    assert looked_at(page, "black")[::2] == (["edge_wear"], [True])


@pytest.mark.parametrize("sort", ["tape", "stain"])
def test_a_tint_on_the_margin_is_told_from_toning(sort: str) -> None:
    toned = age(sheet(), Wear(toning=0.8 if sort == "tape" else 0.3, seed=4))
    mm = PPI / 25.4
    high, wide = toned.pixels.shape[:2]
    y, x = np.mgrid[0:high, 0:wide] / mm
    if sort == "tape":
        box, amount = (0.0, 90.0, 60.0, 110.0), ((x < 60) & (y > 90) & (y < 110)) * 0.6
        tint = np.array([0.05, 0.14, 0.36])
    else:
        away = np.hypot(x + 4, y - 200)
        box, amount = (0.0, 150.0, 46.0, 250.0), (away < 50) * 0.07 + 0.16 * np.exp(-(((away - 50) / 1.4) ** 2))
        tint = np.array([0.5, 0.9, 1.4])
    pixels = (toned.pixels * (1 - amount[..., None] * tint)).astype(np.float32)
    left, top, right, bottom = (v * mm for v in box)
    marked = replace(toned, pixels=pixels, added={f"{sort}-0": (left, top, right, bottom)})
    assert looked_at(marked)[::2] == ([sort], [True])


def test_a_hole_where_folds_cross_is_named_and_the_same_dark_spot_elsewhere_is_not() -> None:
    lines = (
        FoldLine("x", 0.5, (0.0, 0.0), (0.0, 0.0), 0.9, False, ""),
        FoldLine("y", 0.5, (0.0, 0.0), (0.0, 0.0), 0.9, False, ""),
    )
    holed = fold_loss(sheet(), np.random.default_rng(2), (0.5, 0.5))
    assert looked_at(holed, "black", Folded(0.0, True, lines))[0] == ["fold_loss"]
    assert looked_at(holed, "black")[0] == []


def test_a_bed_as_light_as_the_paper_tells_no_gap_and_that_is_said() -> None:
    torn = cut(*TORN["missing_corner"], sort="missing_corner")
    named, looked, _ = looked_at(torn, "white")
    assert "missing_corner" not in named and "missing_corner" not in looked and "tape" in looked


def test_a_sheet_that_is_only_folded_toned_and_faded_shows_nothing() -> None:
    assert looked_at(age(sheet(), Wear((2, 2), 0.7, toning=0.5, fade=0.4, seed=8)))[0] == []


def test_only_sorts_that_are_on_are_suggested_and_no_negative_is_looked_at() -> None:
    torn = cut(*TORN["missing_corner"], sort="missing_corner")
    scanned = scan([torn], Setting(bed="grey", margin_mm=12.0, noise=0.003, seed=3))
    seen = page_of(np.clip(scanned.pixels * 255 + 0.5, 0, 255).astype(np.uint8))
    rendered = render(seen, RENDER)
    told = condition(seen, rendered, classified(), FLAT, CHECKED, RULES)
    assert [p.sort for p in told.places] == ["missing_corner"] and "writing" not in told.looked
    row = RULES.sorts["missing_corner"].model_copy(update={"on": False})
    off = RULES.model_copy(update={"sorts": {**RULES.sorts, "missing_corner": row}})
    assert condition(seen, rendered, classified(), FLAT, CHECKED, off).places == ()
    negative = classified(polarity="negative")
    assert condition(seen, rendered, negative, FLAT, CHECKED, RULES) == Condition()


def test_a_pinhole_is_told_from_a_letter() -> None:
    patch = np.full((120, 120, 3), 236, np.uint8)
    patch[30:36, 30:36] = 25
    patch[80:86, 60:66] = 25
    patch[76:90, 70:74] = 25
    assert [d.box for d in dots(patch, 5.0, (0.5, 1.6), 0.45, 1.6)] == [(30, 30, 36, 36)]


def test_sorts_that_are_too_often_false_cannot_all_be_on() -> None:
    rows = {name: row.model_copy(update={"on": True, "false_a_sheet": 0.2}) for name, row in RULES.sorts.items()}
    with pytest.raises(ValueError, match="false places a sheet"):
        ConditionRules.model_validate(RULES.model_dump() | {"sorts": {n: r.model_dump() for n, r in rows.items()}})
