"""Measure the scale that a ruler in the frame gives, on frames painted with seeds never tuned on.

    python -m tests.bench.rulers --work FOLDER [--seeds 400] [--sheets 20]

Each sheet is laid on a bed with a ruler, without one and with something like one (tests/bench/ruler_frames.py); the
files tell no resolution. Check, render and measure look at them as they stand.
"""

import argparse
import math
import time
from dataclasses import dataclass
from pathlib import Path

from intake.imaging.original import open_original
from intake.model import PartKey, Ruler
from intake.stages.check import check
from intake.stages.measure import measure
from intake.stages.render import render
from tests.bench.figures import wilson
from tests.bench.ruler_frames import Frame, frames
from tests.made import SETTINGS

SHARE = 0.007


@dataclass(frozen=True, slots=True)
class Seen:
    """What was told of a frame: its ruler, how far the scale and the sheet's size are off (infinite: not told)."""

    frame: Frame
    ruler: Ruler | None
    off: float
    size_off: float
    words: str
    cpu_s: float


def main() -> None:
    """Paint, look, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seeds", type=int, nargs="+", default=[400])
    ask.add_argument("--sheets", type=int, default=20)
    told = ask.parse_args()
    rows: list[Seen] = []
    for seed in told.seeds:
        for frame in frames(told.sheets, seed, told.work / "rulers"):
            rows.append(_look(frame, told.work))
            print(" ", rows[-1].words, flush=True)
    rulers = [r for r in rows if r.frame.ruler]
    for name in sorted({r.frame.ruler for r in rulers}):
        some = [r for r in rulers if r.frame.ruler == name]
        print(f"{name}: a scale told", wilson(sum(r.ruler is not None for r in some), len(some)))
    known = [r for r in rulers if r.ruler]
    print("all rulers: a scale told", wilson(len(known), len(rulers)))
    print("scale within .7 % where told:", wilson(sum(r.off <= SHARE for r in known), len(known)))
    print(
        "scale within its own error bar:", wilson(sum(r.off <= r.ruler.off_share for r in known if r.ruler), len(known))
    )
    print("size of the sheet within .7 % where told:", wilson(sum(r.size_off <= SHARE for r in known), len(known)))
    for words, some in (
        ("without a ruler", [r for r in rows if not r.frame.ruler and not r.frame.like]),
        ("beside something like one", [r for r in rows if r.frame.like]),
    ):
        print(f"false scales, {words}:", sum(r.ruler is not None for r in some), "of", len(some))
    print(f"CPU seconds a frame (decode, check, render, measure): {sum(r.cpu_s for r in rows) / len(rows):.2f}")


def _look(frame: Frame, work: Path) -> Seen:
    started = time.process_time()
    with open_original(frame.path, SETTINGS.check, work) as original:
        checked = check(frame.path, original, SETTINGS.check)
        part = checked.parts[0]
        rendered = render(original.page(PartKey("x", 1), part), SETTINGS.render)
    size = measure(part, rendered.outline, checked, "finished_sheet", None, SETTINGS.formats, SETTINGS.measure)
    off = size_off = math.inf
    if checked.ruler is not None:
        off = abs(checked.ruler.px_per_mm / frame.px_per_mm - 1)
    if size.width_mm and size.height_mm:
        got, want = sorted((size.width_mm, size.height_mm)), sorted((frame.width_mm, frame.height_mm))
        size_off = max(abs(g / w - 1) for g, w in zip(got, want, strict=True))
    said = (
        "no scale" if checked.ruler is None else f"{checked.ruler.graduation}, {checked.ruler.ticks} ticks, {off:.2%}"
    )
    words = f"{frame.path.name} {frame.ruler or frame.like or 'none'} ({frame.words}): {said}; size {size_off:.2%}"
    return Seen(frame, checked.ruler, off, size_off, words, time.process_time() - started)


if __name__ == "__main__":
    main()
