"""Sheets for the condition bench: each printed once, then scanned as it is, and twice with damage planted on it.

Pictures, layouts and small print are those of the painted consignments; folds, wear, backing, bed, turn and damage are
drawn anew for each. The clean scan is what false places are counted on as well: it is folded, toned and faded too.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sample_batch import story
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.make import painted
from sample_batch.page import MM_PER_INCH, Page
from sample_batch.press import ink_on_paper
from sample_batch.scanner import Setting, scan
from sample_batch.sheet import print_sheet
from sample_batch.wear import Wear, age, back_with_linen, fold_lines
from tests.bench.condition_damage import PLANTED, fold_loss
from tests.bench.fold_sheets import PANELS, _planned, _straight

Places = list[tuple[str, tuple[float, float, float, float]]]
LONG_PX, PPI = (2100, 3600), (60.0, 150.0)
TRUTH = "truth.json"


@dataclass(frozen=True, slots=True)
class WornScan:
    """One scan and its truth: sort and box (left, top, right, bottom in stored pixels) of each planted damage."""

    path: Path
    places: Places
    bed: str
    linen: bool
    ppi: float
    words: str


def worn_scans(count: int, seed: int, folder: Path) -> Iterator[WornScan]:
    """Print ``count`` sheets of ``seed`` and scan each three times into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    batch = crowd(count * 5, seed)
    pieces = [p for p in batch.pieces if isinstance(p.recipe, story.Printed)][:count]
    for number, piece in enumerate(pieces):
        rng = np.random.default_rng([seed, 57, number])
        plan = _planned(piece.recipe.plan, rng)  # type: ignore[union-attr]
        ppi = float(np.clip(rng.uniform(*LONG_PX) / max(plan.width_mm, plan.height_mm) * MM_PER_INCH, *PPI))
        design = batch.design(piece.design)
        page = print_sheet(plan, painted(design.seed, design.genre, design.aspect, piece.edits), ppi)
        words = "; ".join(w for w in (_straight(page, plan, rng), "" if plan.margins[0] else "no margins") if w)
        page = ink_on_paper(page, number + 1, 120.0, 0.0)
        for take in range(3):
            yield _worn(page, take, words, rng, folder / f"{seed}-{number:03d}-{take}.jpg")


def _worn(page: Page, take: int, words: str, rng: np.random.Generator, path: Path) -> WornScan:
    panels = PANELS[int(rng.integers(len(PANELS)))] if rng.random() < 0.75 else (1, 1)
    wear = Wear(
        panels,
        float(rng.uniform(0.1, 0.9)),
        fade=float(rng.uniform(0, 0.5)),
        toning=float(rng.uniform(0, 0.9)),
        linen=bool(rng.random() < 0.15),
        seed=int(rng.integers(1e6)),
    )
    page = age(replace(page, added={}), wear)
    if take:
        for name in rng.choice(list(PLANTED), int(rng.integers(2, 5)), replace=False):
            page = PLANTED[str(name)](page, rng)
        if min(panels) > 1 and rng.random() < 0.5:
            across, down = fold_lines(panels[0]), fold_lines(panels[1])
            page = fold_loss(page, rng, (float(rng.choice(across)), float(rng.choice(down))))
    if wear.linen:
        page = replace(back_with_linen(page, wear.seed), alpha=None)
    tight = rng.random() < 0.08
    setting = Setting(
        bed=str(rng.choice(["grey", "grey", "black", "white"])),
        margin_mm=0.0 if tight else 12.0,
        angle_deg=0.0 if tight else float(rng.normal(0, 0.4)),
        rotation=int(rng.choice([0, 0, 90, 180, 270])),
        blur_mm=float(rng.uniform(0.05, 0.16)) if rng.random() < 0.3 else 0.0,
        noise=float(rng.uniform(0.002, 0.006)),
        exposure=float(rng.uniform(0.93, 1.02)),
        seed=wear.seed,
    )
    scanned = scan([page], setting)
    write_scan(path, scanned.pixels, page.ppi, Delivery(quality=int(rng.integers(66, 88)), stand=True))
    places = [(name.rsplit("-", 1)[0], box) for name, box in scanned.parts[0].page.added.items()]
    return WornScan(path, places, setting.bed, wear.linen, page.ppi, words + ("; tight" if tight else ""))


def painted_scans(seed: int, sheets: int, work: Path) -> list[WornScan]:
    """The scans of one seed; painted now if they are not there."""
    folder = work / f"worn-{seed}-{sheets}"
    path = folder / TRUTH
    if not path.exists():
        rows = [
            {"path": o.path.name, "places": o.places, "bed": o.bed, "linen": o.linen, "ppi": o.ppi, "words": o.words}
            for o in worn_scans(sheets, seed, folder)
        ]
        path.write_text(json.dumps(rows), encoding="utf-8")
    made = []
    for row in json.loads(path.read_text(encoding="utf-8")):
        places = [(sort, tuple(box)) for sort, box in row.pop("places")]
        made.append(WornScan(folder / row.pop("path"), places, **row))
    return made
