"""Measure the scale that a ruler in the frame gives, on frames painted with seeds never tuned on.

    python -m tests.bench.rulers --work FOLDER [--seeds 400] [--sheets 20]

Each sheet is laid on a bed with a ruler, without one and with something like one (tests/bench/ruler_frames.py); the
files tell no resolution. Check, render and measure look at them as they stand.
"""

import argparse
import math
import time
from collections import defaultdict
from pathlib import Path

from intake.imaging.original import open_original
from intake.model import PartKey
from intake.stages.check import check
from intake.stages.measure import measure
from intake.stages.render import render
from tests.bench.figures import wilson
from tests.bench.ruler_frames import Frame, frames
from tests.made import SETTINGS


def main() -> None:
    """Paint, look, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seeds", type=int, nargs="+", default=[400])
    ask.add_argument("--sheets", type=int, default=20)
    told = ask.parse_args()
    found: dict[str, list[tuple[bool, float, float, float]]] = defaultdict(list)
    false, costs, sizes, units = {"none": [0, 0], "like": [0, 0]}, [], [], []
    for seed in told.seeds:
        for frame in frames(told.sheets, seed, told.work / "rulers"):
            started = time.process_time()
            px_per_mm, off_share, unit, size = _look(frame, told.work)
            costs.append(time.process_time() - started)
            if not frame.ruler:
                sort = "like" if frame.like else "none"
                false[sort][1] += 1
                false[sort][0] += px_per_mm is not None
                if px_per_mm is not None:
                    print("  FALSE:", frame.path.name, frame.like, frame.words, f"{px_per_mm:.3f} {unit}")
                continue
            off = abs(px_per_mm / frame.px_per_mm - 1) if px_per_mm else math.nan
            found[frame.ruler].append((px_per_mm is not None, off, off_share, 0.0))
            if px_per_mm is None or off > 0.007:
                print("  missed:" if px_per_mm is None else f"  off {off:.3%}:", frame.path.name, frame.words, unit)
            if px_per_mm is not None:
                units.append(off < 0.1)
                if size:
                    sizes.append(max(abs(size[0] / frame.width_mm - 1), abs(size[1] / frame.height_mm - 1)))
    for name, rows in found.items():
        print(f"{name}: a scale told", wilson(sum(r[0] for r in rows), len(rows)))
    told_rows = [r for rows in found.values() for r in rows if r[0]]
    print("all rulers: a scale told", wilson(len(told_rows), sum(map(len, found.values()))))
    print("scale within .7 % where told:", wilson(sum(r[1] <= 0.007 for r in told_rows), len(told_rows)))
    print("scale within its own error bar:", wilson(sum(r[1] <= r[2] for r in told_rows), len(told_rows)))
    print("unit right where told:", wilson(sum(units), len(units)))
    print("size of the sheet within .7 % where told:", wilson(sum(s <= 0.007 for s in sizes), len(sizes)))
    print("false scales, without a ruler:", *false["none"], "; beside something like one:", *false["like"])
    print(f"CPU seconds a frame (decode, check, render, measure): {sum(costs) / len(costs):.2f}")


def _look(frame: Frame, work: Path) -> tuple[float | None, float, str, tuple[float, float] | None]:
    with open_original(frame.path, SETTINGS.check, work) as original:
        checked = check(frame.path, original, SETTINGS.check)
        if checked.ppi is None or checked.ruler is None:
            return None, 0.0, "", None
        part = checked.parts[0]
        rendered = render(original.page(PartKey("x", 1), part), SETTINGS.render)
        size = measure(
            part.box, rendered.outline, checked, "finished_sheet", None, SETTINGS.formats, SETTINGS.measure
        )  # fmt: skip
        assert size.width_mm is not None and size.height_mm is not None
        ruler = checked.ruler
        mm = sorted((size.width_mm, size.height_mm))
        if frame.width_mm > frame.height_mm:
            mm.reverse()
        return ruler.px_per_mm, ruler.off_share, ruler.graduation, (mm[0], mm[1])


if __name__ == "__main__":
    main()
