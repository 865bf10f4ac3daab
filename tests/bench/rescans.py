"""Measure how a piece scanned again is told from the same scan saved anew and from a second copy of its printing.

    python -m tests.bench.rescans --work FOLDER [--seeds 700] [--sheets 20]

Each sheet is printed twice and both copies age alike or apart; the first is scanned twice, on another bed, at another
turn, resolution and exposure, and its first scan is also saved anew. Two sheets in five are as new: there only paper
tells copies apart. The stages and the comparing service look at the files as they stand.
"""

import argparse
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from intake.imaging.encode import jpeg_bytes
from intake.imaging.original import open_original
from intake.kin import ANEW, Match
from intake.model import Checked, PartKey, Rendered
from intake.services.comparing import Pictured, Task, compare
from intake.services.receive import digest_of
from intake.stages.check import check
from intake.stages.classify import classify
from intake.stages.fingerprint import fingerprint
from intake.stages.render import render
from sample_batch import story
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.make import painted
from sample_batch.page import MM_PER_INCH, Page
from sample_batch.press import ink_on_paper
from sample_batch.scanner import Setting, scan
from sample_batch.sheet import print_sheet
from sample_batch.wear import Wear, age
from tests.bench.figures import wilson
from tests.bench.fold_sheets import PANELS, _planned
from tests.made import SETTINGS

LONG_PX, PPI = (1500, 2600), (45.0, 150.0)
# what each pair of files is in truth
PAIRS = {
    "scanned again": ("a1", "a2"),
    "saved anew": ("a1", "a1-anew"),
    "a second copy": ("a1", "b1"),
    "a second copy, scanned alike": ("a2", "b1"),
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """The files of one printed sheet by their names, and whether its copies are as new."""

    files: dict[str, Path]
    fresh: bool


def sheets(count: int, seed: int, folder: Path) -> Iterator[Sheet]:
    """Print ``count`` sheets of ``seed`` twice each and scan them into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    batch = crowd(count * 5, seed)
    pieces = [p for p in batch.pieces if isinstance(p.recipe, story.Printed)][:count]
    for number, piece in enumerate(pieces):
        rng = np.random.default_rng([seed, 71, number])
        plan = _planned(piece.recipe.plan, rng)  # type: ignore[union-attr]
        ppi = float(np.clip(rng.uniform(*LONG_PX) / max(plan.width_mm, plan.height_mm) * MM_PER_INCH, *PPI))
        design = batch.design(piece.design)
        printed = print_sheet(plan, painted(design.seed, design.genre, design.aspect, piece.edits), ppi)
        fresh = number % 5 in (1, 3)
        wear = _wear(rng, fresh)
        # half of the second copies were folded and kept as the first was
        alike = rng.random() < 0.5
        second = replace(wear if alike else _wear(rng, fresh), seed=int(rng.integers(1e6)))
        a, b = (age(ink_on_paper(printed, int(rng.integers(1e6)), 120.0, 0.0), w) for w in (wear, second))
        # one in six is cut to the sheet on all its scans: then frames alone look alike
        tight = bool(rng.random() < 1 / 6)
        files = {name: folder / f"{seed}-{number:03d}-{name}.jpg" for name in ("a1", "a2", "b1", "a1-anew")}
        _scanned(a, rng, files["a1"], tight=tight)
        _scanned(a, rng, files["a2"], tight=tight)
        _scanned(b, rng, files["b1"], tight=tight)
        _anew(files["a1"], ppi, rng, files["a1-anew"])
        yield Sheet(files, fresh)


def _wear(rng: np.random.Generator, fresh: bool) -> Wear:
    if fresh:
        return Wear(toning=float(rng.uniform(0, 0.15)), seed=int(rng.integers(1e6)))
    return Wear(
        PANELS[int(rng.integers(len(PANELS)))],
        float(rng.uniform(0.2, 1.0)),
        pinholes=bool(rng.random() < 0.4),
        stains=float(rng.uniform(0, 0.6)) if rng.random() < 0.6 else 0.0,
        fade=float(rng.uniform(0, 0.4)),
        toning=float(rng.uniform(0, 0.6)),
        seed=int(rng.integers(1e6)),
    )


def _scanned(page: Page, rng: np.random.Generator, path: Path, *, tight: bool) -> None:
    smaller = float(rng.uniform(0.75, 1.0))
    high, wide = page.pixels.shape[:2]
    pixels = cv2.resize(page.pixels, (round(wide * smaller), round(high * smaller)), interpolation=cv2.INTER_AREA)
    ppi = page.ppi * smaller
    setting = Setting(
        bed=str(rng.choice(["grey", "black", "white"])),
        margin_mm=2.0 if tight else 12.0,
        angle_deg=float(rng.normal(0, 0.1 if tight else 0.5)),
        window=(*rng.uniform(0.002, 0.005, 2), *rng.uniform(0.995, 0.998, 2)) if tight else None,
        rotation=int(rng.choice([0, 0, 180])),
        blur_mm=float(rng.uniform(0.05, 0.12)) if rng.random() < 0.3 else 0.0,
        noise=float(rng.uniform(0.002, 0.007)),
        exposure=float(rng.uniform(0.92, 1.03)),
        warmth=float(rng.normal(0, 0.012)),
        seed=int(rng.integers(1e6)),
    )
    made = scan([Page(pixels.astype(np.float32), ppi)], setting).pixels
    write_scan(path, made, ppi, Delivery(quality=int(rng.integers(70, 90)), stand=True))


def _anew(first: Path, ppi: float, rng: np.random.Generator, path: Path) -> None:
    """The same scan from its JPEG saved anew: other quality, half of them smaller, some a little lighter."""
    old = cv2.imread(str(first))[..., ::-1].astype(np.float32) / 255
    smaller = float(rng.choice([1.0, 1.0, 0.75, 0.5]))
    size = (round(old.shape[1] * smaller), round(old.shape[0] * smaller))
    old = cv2.resize(old, size, interpolation=cv2.INTER_AREA) if smaller < 1 else old
    old = np.clip(old ** float(rng.choice([1.0, 1.0, 0.93])), 0, 1)
    write_scan(path, old, ppi * smaller, Delivery(quality=int(rng.integers(55, 95)), stand=True))


def main() -> None:
    """Paint, look, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seeds", type=int, nargs="+", default=[700])
    ask.add_argument("--sheets", type=int, default=20)
    told = ask.parse_args()
    said: dict[str, Counter[str]] = defaultdict(Counter)
    costs: list[float] = []
    for seed in told.seeds:
        for sheet in sheets(told.sheets, seed, told.work / "rescans"):
            looked = {name: _look(path, told.work) for name, path in sheet.files.items()}
            for truth, (one, other) in PAIRS.items():
                started = time.process_time()
                match = _match(looked[one], looked[other])
                costs.append(time.process_time() - started)
                verdict = "no match" if match is None else match.relation
                if match and any(e.name == ANEW for e in match.evidence):
                    verdict += ", saved anew"
                words = "; ".join(e.words for e in match.evidence) if verdict.startswith("same_piece") and match else ""
                said[truth + (", as new" if sheet.fresh else "")][verdict] += 1
                print(f"  {sheet.files[one].name} {truth}{' fresh' if sheet.fresh else ''}: {verdict} {words}")
    for truth, counts in sorted(said.items()):
        of = sum(counts.values())
        print(f"{truth}:", ", ".join(f"{v} {wilson(n, of)}" for v, n in counts.most_common()))
    print(f"CPU seconds a pair: {sum(costs) / len(costs):.3f}")


def _look(path: Path, work: Path) -> tuple[PartKey, Path, Pictured]:
    key = PartKey(digest_of(path), 1)
    with open_original(path, SETTINGS.check, work) as original:
        checked: Checked = check(path, original, SETTINGS.check)
        page = original.page(key, checked.parts[0])
        rendered: Rendered = render(page, SETTINGS.render)
        kind = classify(page, rendered, checked, SETTINGS.classify).kind
        _, features = fingerprint(
            page.working, page.stored_per_working, rendered.outline, kind, SETTINGS.fingerprint,
            origin=(page.box.left, page.box.top),
        )  # fmt: skip
        kept, working = path.with_suffix(".kff"), path.with_suffix(".working.jpg")
        kept.write_bytes(features.to_bytes())
        working.write_bytes(jpeg_bytes(page.working))
        size = checked.width_px, checked.height_px
        return (
            key,
            kept,
            Pictured(working, page.stored_per_working, page.box.left, page.box.top, rendered.outline, size),
        )


def _match(one: tuple[PartKey, Path, Pictured], other: tuple[PartKey, Path, Pictured]) -> Match | None:
    a, b = sorted((one, other), key=lambda x: x[0])
    (made,) = compare(
        [Task((a[0], b[0]), (a[1], b[1]), frozenset(), (a[2], b[2]))], SETTINGS.match, SETTINGS.fingerprint
    )
    return made.match


if __name__ == "__main__":
    main()
