"""Sheets for the folding bench: each printed once, then folded, left flat, and with folds printed in.

Pictures, layouts and small print are those of the painted consignments; formats, folds, wear, straight things in the
picture, beds, turns and files are drawn anew for each.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import cv2
import numpy as np

from sample_batch import story
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.layouts import SIZES, Campaign, lay_out
from sample_batch.make import painted
from sample_batch.page import MM_PER_INCH, Page
from sample_batch.press import ink_on_paper, proof
from sample_batch.scanner import Setting, scan
from sample_batch.sheet import SheetPlan, picture_place, print_sheet
from sample_batch.wear import Wear, age, back_with_linen, fold

Sort = Literal["folded", "flat", "printed"]
# vertical and horizontal panels: what the formats were issued with, and what else halving and thirds give
PANELS = ((2, 4), (2, 4), (1, 3), (1, 2), (2, 2), (4, 2), (1, 4), (2, 1), (4, 4), (2, 3))
LONG_PX = (2100, 4200)
PPI = (60.0, 150.0)
TRUTH = "truth.csv"


@dataclass(frozen=True, slots=True)
class FoldScan:
    """One scan and its truth. ``vertical`` and ``horizontal`` count the lines of the sheet turned upright;
    ``skew_deg`` is how far the piece was turned on the bed, clockwise as stored."""

    path: Path
    sort: Sort
    vertical: int
    horizontal: int
    wear: float
    rotation: int
    skew_deg: float
    ppi: float
    bed: str
    words: str


def fold_scans(count: int, seed: int, folder: Path) -> Iterator[FoldScan]:
    """Print ``count`` sheets of ``seed`` and scan each three times into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    batch = crowd(count * 5, seed)
    pieces = [p for p in batch.pieces if isinstance(p.recipe, story.Printed)][:count]
    for number, piece in enumerate(pieces):
        rng = np.random.default_rng([seed, 31, number])
        plan = _planned(piece.recipe.plan, rng)  # type: ignore[union-attr]
        ppi = float(np.clip(rng.uniform(*LONG_PX) / max(plan.width_mm, plan.height_mm) * MM_PER_INCH, *PPI))
        design = batch.design(piece.design)
        painting = painted(design.seed, design.genre, design.aspect, piece.edits)
        page = print_sheet(plan, painting, ppi)
        straight = [w for w in (_straight(page, plan, rng), "" if plan.margins[0] else "no margins") if w]
        page = ink_on_paper(page, number + 1, 120.0, 1.0 if rng.random() < 0.2 else 0.0)
        for sort in ("folded", "flat", "printed"):
            yield _scanned(page, plan, sort, straight, rng, folder / f"{seed}-{number:03d}-{sort}.jpg")  # type: ignore[arg-type]


def _planned(plan: SheetPlan, rng: np.random.Generator) -> SheetPlan:
    sizes = list(SIZES)
    assert plan.title is not None
    campaign = Campaign("", plan.title, plan.billing, plan.tagline)
    made = lay_out(sizes[int(rng.integers(len(sizes)))], campaign, plan.lines, plan.certificate, window=plan.window)
    return replace(made, margins=(0.0, 0.0, 0.0, 0.0)) if rng.random() < 0.06 else made


def _straight(page: Page, plan: SheetPlan, rng: np.random.Generator) -> str:
    """Print straight things where folds might lie on some sheets (in place): panels, rules, a grid of pictures."""
    kind = ("", "", "", "panel", "rule", "grid", "bleed")[int(rng.integers(7))]
    high, wide = page.pixels.shape[:2]
    scale = page.px_per_mm
    left, top, right, bottom = (round(v * scale) for v in picture_place(plan))
    share = (1 / 2, 1 / 3, 1 / 4, 2 / 3, 3 / 4)[int(rng.integers(5))] + float(rng.uniform(-0.004, 0.004))
    lies = bool(rng.random() < 0.5)
    at = round(share * (high if lies else wide))
    view = page.pixels if lies else page.pixels.swapaxes(0, 1)
    first, last = (left, right) if lies else (top, bottom)
    if kind == "panel":
        view[at : (bottom if lies else right), first:last] *= np.float32(rng.uniform(0.4, 0.85, 3))
    elif kind == "bleed":
        view[at:] *= np.float32(rng.uniform(0.4, 0.85, 3))
    elif kind == "rule":
        half = max(1, round(float(rng.uniform(0.3, 1.0)) * scale / 2))
        view[at - half : at + half, first:last] = np.float32((0.94, 0.93, 0.9)) if rng.random() < 0.6 else 0.1
    elif kind == "grid":
        gap = max(1, round(float(rng.uniform(0.8, 3.0)) * scale / 2))
        x, y = wide // 2, round((0.5 if rng.random() < 0.5 else 1 / 3) * high)
        page.pixels[top:bottom, x - gap : x + gap] = (0.95, 0.94, 0.91)
        page.pixels[y - gap : y + gap, left:right] = (0.95, 0.94, 0.91)
        page.pixels[top:y, left:x] *= np.float32(rng.uniform(0.5, 1.0, 3))
    return kind


def _scanned(
    page: Page, plan: SheetPlan, sort: Sort, straight: list[str], rng: np.random.Generator, path: Path
) -> FoldScan:
    panels = PANELS[int(rng.integers(len(PANELS)))] if sort != "flat" else (1, 1)
    strength = float(rng.uniform(0.1, 1.0))
    wear = Wear(
        panels if sort == "folded" else (1, 1),
        strength,
        pinholes=bool(rng.random() < 0.3),
        stains=float(rng.uniform(0, 0.8)) if rng.random() < 0.7 else 0.0,
        fade=float(rng.uniform(0, 0.5)),
        toning=float(rng.uniform(0, 0.8)),
        linen=sort == "flat" and bool(rng.random() < 0.2),
        seed=int(rng.integers(1e6)),
    )
    words = list(straight)
    if sort == "printed":
        page, inner = _fold_printed(page, plan, panels, strength, rng)
        words += ["picture only"] if inner else []
    elif sort == "flat" and not wear.linen and rng.random() < 0.15:
        page = proof(page, wear.seed, ("OK",), "Job No. 4711", "", page.ppi)
        words.append("proof")
    page = age(page, wear)
    if wear.linen:
        page = back_with_linen(page, wear.seed)
        words.append("linen")
    turn = int(rng.choice([0, 0, 90, 180, 270]))
    tight = rng.random() < 0.12
    angle = 0.0 if tight else float(rng.normal(0, 0.4))
    setting = Setting(
        bed=str(rng.choice(["grey", "black", "white"])),
        margin_mm=0.0 if tight else 12.0,
        angle_deg=angle,
        rotation=turn,
        blur_mm=float(rng.uniform(0.05, 0.16)) if rng.random() < 0.3 else 0.0,
        noise=float(rng.uniform(0.002, 0.006)),
        exposure=float(rng.uniform(0.93, 1.02)),
        seed=wear.seed,
    )
    words += ["tight"] if tight else []
    scanned = scan([page], setting)
    write_scan(path, scanned.pixels, page.ppi, Delivery(quality=int(rng.integers(62, 86)), stand=True))
    vertical, horizontal = (p - 1 for p in panels)
    return FoldScan(
        path, sort, vertical, horizontal, strength, turn, -angle, page.ppi, setting.bed, "; ".join(words)
    )  # fmt: skip


def _fold_printed(
    page: Page, plan: SheetPlan, panels: tuple[int, int], strength: float, rng: np.random.Generator
) -> tuple[Page, bool]:
    """Print folds in: over the whole sheet, or in the picture alone, as when a used sheet was copied within borders."""
    pixels = fold(page.pixels, page.px_per_mm, panels, strength, int(rng.integers(1e6)), printed=True)
    inner = bool(rng.random() < 0.5)
    if inner:
        left, top, right, bottom = (round(v * page.px_per_mm) for v in picture_place(plan))
        whole = page.pixels.copy()
        whole[top:bottom, left:right] = pixels[top:bottom, left:right]
        pixels = whole
    return replace(page, pixels=pixels.astype(np.float32)), inner


cv2.setNumThreads(1)
