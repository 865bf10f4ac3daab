"""Measure what is told of noise, banding and dust, planted on scans painted with seeds never tuned on.

    python -m tests.bench.capture --work FOLDER [--seeds 800] [--sheets 20]

Each sheet is printed once and scanned as it should be, and thrice with one thing planted: noise, lines along an axis,
specks. What is measured of the files is set beside what was planted; findings on other scans are false. (A sheet's own
stains and pinholes are on the clean scan too.)
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from intake.imaging.capture import lightness
from intake.imaging.original import open_original
from intake.model import PartKey
from intake.stages.check import check
from intake.stages.rescan import rescan
from sample_batch import story
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.make import painted
from sample_batch.page import Pixels
from sample_batch.press import ink_on_paper
from sample_batch.scanner import Setting, scan
from sample_batch.sheet import print_sheet
from sample_batch.wear import Wear, age
from tests.bench.figures import wilson
from tests.bench.fold_sheets import PANELS, _planned
from tests.made import SETTINGS, classified

_MOST_MM = 600
SORTS = ("clean", "noise", "banding", "dust")


@dataclass(frozen=True, slots=True)
class Planted:
    """One file, what was planted on it and how much of that, in the unit in which it is told."""

    path: Path
    sort: str
    amount: float


@dataclass(frozen=True, slots=True)
class Seen:
    """What was told of one file: the measures (None where not told) and the codes of its findings."""

    of: Planted
    values: dict[str, float | None]
    codes: frozenset[str]


def planted(count: int, seed: int, folder: Path) -> Iterator[Planted]:
    """Four scans of each of ``count`` sheets."""
    folder.mkdir(parents=True, exist_ok=True)
    batch = crowd(count * 5, seed)
    pieces = [p for p in batch.pieces if isinstance(p.recipe, story.Printed)][:count]
    for number, piece in enumerate(pieces):
        rng = np.random.default_rng([seed, 91, number])
        plan = _planned(piece.recipe.plan, rng)  # type: ignore[union-attr]
        while max(plan.width_mm, plan.height_mm) > _MOST_MM:
            plan = _planned(plan, rng)
        ppi = float(rng.uniform(90, 140))
        design = batch.design(piece.design)
        page = print_sheet(plan, painted(design.seed, design.genre, design.aspect, piece.edits), ppi)
        page = ink_on_paper(page, number + 1, 120.0, 1.0 if rng.random() < 0.2 else 0.0)
        wear = Wear(
            PANELS[int(rng.integers(len(PANELS)))], float(rng.uniform(0.1, 1)), bool(rng.random() < 0.3),
            stains=float(rng.uniform(0, 0.6)), toning=float(rng.uniform(0, 0.6)), seed=number,
        )  # fmt: skip
        setting = Setting(
            str(rng.choice(["grey", "black", "white"])), 0.0 if rng.random() < 0.2 else 18.0, float(rng.normal(0, 0.4)),
            int(rng.choice([0, 90, 180, 270])), noise=float(rng.uniform(0.002, 0.006)), seed=number,
        )  # fmt: skip
        clean = scan([age(page, wear)], setting).pixels
        for sort in SORTS:
            pixels, amount = _plant(clean, sort, rng)
            path = folder / f"{seed}-{number:03d}-{sort}.jpg"
            write_scan(path, pixels, ppi, Delivery(quality=int(rng.integers(75, 95))))
            yield Planted(path, sort, amount)


def _plant(clean: Pixels, sort: str, rng: np.random.Generator) -> tuple[Pixels, float]:
    high, wide = clean.shape[:2]
    if sort == "noise":
        added = rng.normal(0, float(rng.uniform(2, 14)) / 255, (high, wide, 1))
        away = _light(clean + added) - _light(clean)
        tiles = [away[y : y + 128, x : x + 128].std() for y in range(0, high, 128) for x in range(0, wide, 128)]
        return np.clip(clean + added, 0, 1).astype(np.float32), float(np.percentile(tiles, 10))
    if sort == "banding":
        upright = bool(rng.random() < 0.5)
        length = high if upright else wide
        strength = float(rng.uniform(0.6, 6)) / 255
        if rng.random() < 0.5:
            lines = rng.normal(0, strength, length)
        else:
            lines = strength * np.sqrt(2) * np.sin(np.arange(length) * 2 * np.pi / float(rng.uniform(3, 24)))
        made = np.clip(clean * (1 + (lines[:, None, None] if upright else lines[None, :, None]) * 2), 0, 1)
        away = _light(made) - _light(clean)
        return made.astype(np.float32), float(away.mean(axis=1 if upright else 0).std())
    if sort == "dust":
        made = clean.copy()
        a_million = float(rng.uniform(15, 400))
        for _ in range(round(a_million * high * wide / 1e6)):
            y, x = int(rng.integers(high - 8)), int(rng.integers(wide - 8))
            a, b = int(rng.integers(2, 6)), int(rng.integers(2, 6))
            made[y : y + a, x : x + b] += float(rng.choice([-1, 1])) * float(rng.uniform(0.1, 0.4))
        return np.clip(made, 0, 1), a_million
    return clean, 0.0


def _light(pixels: Pixels) -> np.ndarray:  # type: ignore[type-arg]
    return lightness((np.clip(pixels, 0, 1) * 255 + 0.5).astype(np.uint8))


def main() -> None:
    """Paint, look, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seeds", type=int, nargs="+", default=[800])
    ask.add_argument("--sheets", type=int, default=20)
    told = ask.parse_args()
    rows: list[Seen] = []
    for seed in told.seeds:
        for one in planted(told.sheets, seed, told.work / "capture"):
            with open_original(one.path, SETTINGS.check, told.work) as original:
                checked = check(one.path, original, SETTINGS.check)
                page = original.page(PartKey("x", 1), checked.parts[0])
                made = rescan(page, checked, classified("finished_sheet"), SETTINGS.rescan)
            values = {"noise": made.noise, "banding": made.banding, "dust": made.specks}
            rows.append(Seen(one, values, frozenset(f.code for f in made.findings)))
            words = ", ".join(f"{k} {v:.2f}" if v is not None else f"{k} not told" for k, v in values.items())
            print(f"  {one.path.name} planted {one.amount:.2f}: {words}; {sorted(rows[-1].codes)}", flush=True)
    rules = SETTINGS.rescan
    for sort, code, most in (
        ("noise", "noisy", rules.noise.most),
        ("banding", "banded", rules.banding.most),
        ("dust", "dusty", rules.dust.most),
    ):
        _say(sort, code, most, rows)


def _say(sort: str, code: str, most: float, rows: list[Seen]) -> None:
    clean = [r.values[sort] for r in rows if r.of.sort == "clean"]
    known = [v for v in clean if v is not None]
    others = [r for r in rows if r.of.sort != sort]
    print(f"{sort}: told on clean scans {len(known)} of {len(clean)};", end=" ")
    if known:
        print("median and most there", *np.round(np.percentile(known, (50, 100)), 2), end="; ")
    print(f"false findings {wilson(sum(code in r.codes for r in others), len(others))}")
    own = [r for r in rows if r.of.sort == sort and r.values[sort] is not None]
    strong = [r for r in own if r.of.amount > 1.5 * most]
    hits = wilson(sum(code in r.codes for r in strong), len(strong))
    print(f"  planted at more than 1.5 x {most:g}, and told at all: found {hits}")
    ratios = [(r.values[sort] or 0) / r.of.amount for r in own if r.of.amount > most / 2]
    if ratios:
        print("  told / planted, 10 %, median, 90 %:", *np.round(np.percentile(ratios, (10, 50, 90)), 2))


if __name__ == "__main__":
    main()
