"""Measure what the first look at a large scan costs: check, render, classify and measure, in a process of its own.

    python -m tests.bench.cost --work FOLDER [--seed 900]

A painted sheet as a JPEG of about 24 megapixels, and as a 16-bit LZW TIFF of about 115, is looked at by one worker
each, as the night does it (no text is read). Told are CPU seconds by stage and the peak of resident memory (VmHWM of
the worker alone); without a resolution in the file a ruler is looked for as well.
"""

import argparse
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np

from intake.imaging.original import open_original
from intake.model import PartKey
from intake.stages.check import check
from intake.stages.classify import classify
from intake.stages.measure import measure
from intake.stages.render import render
from intake.stages.rescan import rescan
from sample_batch import story
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.make import painted
from sample_batch.press import ink_on_paper
from sample_batch.scanner import Setting, scan
from sample_batch.sheet import print_sheet
from tests.made import SETTINGS

JPEG_MP, TIFF_MP = 24.5, 115.0
_PAINTED_PX = 2400


def main() -> None:
    """Paint the files where they are not there, then look at each in a process of its own."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seed", type=int, default=900)
    ask.add_argument("--look", type=Path, help="look at one file in this process (the bench calls itself so)")
    told = ask.parse_args()
    told.work.mkdir(parents=True, exist_ok=True)
    if told.look:
        _look(told.look, told.work)
        return
    for path in _paint(told.work, told.seed):
        for _ in range(2):  # the second time the file lies in the system's memory, as after a copy from the scanner
            arguments = [sys.executable, "-m", "tests.bench.cost", "--work", str(told.work), "--look", str(path)]
            print(subprocess.run(arguments, check=True, capture_output=True, text=True).stdout, end="")


def _paint(work: Path, seed: int) -> list[Path]:
    paths = [work / f"{seed}-{name}" for name in ("24mp.jpg", "24mp-untold.jpg", "115mp.tif")]
    if all(p.exists() for p in paths):
        return paths
    batch = crowd(10, seed)
    piece = next(p for p in batch.pieces if isinstance(p.recipe, story.Printed))
    plan, design = piece.recipe.plan, batch.design(piece.design)  # type: ignore[union-attr]
    ppi = _PAINTED_PX / plan.height_mm * 25.4
    page = print_sheet(plan, painted(design.seed, design.genre, design.aspect, piece.edits), ppi)
    seen = scan([ink_on_paper(page, 1, 120.0, 0.0)], Setting(angle_deg=0.4, seed=seed)).pixels
    times = (JPEG_MP * 1e6 / (seen.shape[0] * seen.shape[1])) ** 0.5
    large = cv2.resize(
        seen, (round(seen.shape[1] * times), round(seen.shape[0] * times)), interpolation=cv2.INTER_CUBIC
    )
    large += np.random.default_rng(seed).normal(0, 0.004, large.shape[:2]).astype(np.float32)[..., None]
    large = np.clip(large, 0, 1)
    write_scan(paths[0], large, ppi * times, Delivery(quality=88))
    write_scan(paths[1], large, ppi * times, Delivery(quality=88, tagged_ppi=False))
    del large
    enlarge = max(2, round((TIFF_MP * 1e6 / (seen.shape[0] * seen.shape[1])) ** 0.5))
    whole = (TIFF_MP * 1e6 / enlarge**2 / (seen.shape[0] * seen.shape[1])) ** 0.5
    size = (round(seen.shape[1] * whole), round(seen.shape[0] * whole))
    seen = cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
    write_scan(paths[2], seen, ppi * whole, Delivery("tiff16_lzw", enlarge=enlarge))
    return paths


def _look(path: Path, work: Path) -> None:
    spent: dict[str, float] = {}
    at = time.process_time()

    def done(stage: str) -> None:
        nonlocal at
        now = time.process_time()
        spent[stage], at = now - at, now

    with open_original(path, SETTINGS.check, work) as original:
        checked = check(path, original, SETTINGS.check)
        done("check")
        part = checked.parts[0]
        page = original.page(PartKey("x", 1), part)
        rendered = render(page, SETTINGS.render)
        done("render")
        classified = classify(page, rendered, checked, SETTINGS.classify)
        done("classify")
        measure(part, rendered.outline, checked, classified.kind, 0, SETTINGS.formats, SETTINGS.measure)
        done("measure")
        peak_mb = _peak_mb()
        rescan(page, checked, classified, SETTINGS.rescan)
        done("rescan")
    four = sum(spent[s] for s in ("check", "render", "classify", "measure"))
    print(
        f"{path.name}: {checked.width_px * checked.height_px / 1e6:.1f} MP, {classified.kind}, {four:.2f} CPU-s ("
        + ", ".join(f"{stage} {s:.2f}" for stage, s in spent.items())
        + f"), peak {peak_mb:.0f} MB, with rescan {_peak_mb():.0f} MB"
    )


def _peak_mb() -> float:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


if __name__ == "__main__":
    main()
