"""How well folds are told: ``python -m tests.bench.folds --work DIR --seeds 201 202 [--sheets 30] [--fit]``.

Paints sheets (tests/bench/fold_sheets.py) that are not there yet, looks at each scan as the night does, and prints
exact patterns, printed folds that were called folds, folds seen on flat sheets, skew, and CPU time. ``--fit`` prints
the weights for config/fold.toml instead. Seeds below 300 were tuned on.
"""

import argparse
import csv
import math
import time
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.load import Config, load_config
from intake.imaging.creases import log_tone, traces
from intake.imaging.flat import flatten
from intake.imaging.original import open_original
from intake.imaging.page import Page
from intake.model import Checked, Classified, Folded, PartKey, Rendered
from intake.stages.check import check
from intake.stages.fold import MM_PER_INCH, Pattern, _corners, _ink, fold
from intake.stages.render import render
from tests.bench.figures import wilson
from tests.bench.fold_sheets import TRUTH, FoldScan, fold_scans
from tests.made import CONFIG

# A line belongs to a true fold within so many millimetres; further than that, and not much further, it is left out.
SAME_MM, OTHER_MM = 4.5, 12.0


@dataclass(frozen=True, slots=True)
class Looked:
    """What was told of one scan, and what it cost."""

    truth: FoldScan
    folded: Folded
    cpu_s: float

    @property
    def lies(self) -> bool:
        """Was the sheet scanned on its side?"""
        return self.truth.rotation % 180 == 90

    def counted(self, printed: bool) -> tuple[int, int]:
        """Lines told as folds, or as printed in, of the sheet turned upright: vertical, horizontal."""
        crossing = [sum(ln.axis == axis and ln.printed == printed for ln in self.folded.lines) for axis in "xy"]
        return (crossing[1], crossing[0]) if self.lies else (crossing[0], crossing[1])

    @property
    def true_folds(self) -> tuple[int, int]:
        """The lines that were folded."""
        return (self.truth.vertical, self.truth.horizontal) if self.truth.sort == "folded" else (0, 0)


def painted(seed: int, sheets: int, work: Path) -> list[FoldScan]:
    """The scans of one seed; painted now if they are not there."""
    folder = work / f"folds-{seed}-{sheets}"
    path = folder / TRUTH
    if not path.exists():
        rows = [asdict(one) for one in fold_scans(sheets, seed, folder)]
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, [f.name for f in fields(FoldScan)])
            writer.writeheader()
            writer.writerows(rows)
    casts: dict[str, Any] = {"path": Path, "vertical": int, "horizontal": int, "rotation": int}
    casts |= dict.fromkeys(("wear", "skew_deg", "ppi"), float)
    with path.open(encoding="utf-8", newline="") as file:
        return [FoldScan(**{k: casts.get(k, str)(v) for k, v in row.items()}) for row in csv.DictReader(file)]


class Opened:
    """One scan, decoded, checked and rendered, for as long as it is looked at."""

    def __init__(self, truth: FoldScan, config: Config, scratch: Path) -> None:
        """Open the file of ``truth``."""
        self._original = open_original(truth.path, config.check, scratch)
        self.checked: Checked = check(truth.path, self._original, config.check)
        self.page: Page = self._original.page(PartKey("0" * 64, 1), self.checked.parts[0])
        self.rendered: Rendered = render(self.page, config.render)

    def __enter__(self) -> "Opened":
        return self

    def __exit__(self, *_: object) -> None:
        self._original.close()


def looked_at(scans: Iterable[FoldScan], config: Config, scratch: Path) -> list[Looked]:
    """Look at every scan; the kind is given, as it is measured elsewhere."""
    made = []
    for truth in scans:
        kind = "printers_proof" if "proof" in truth.words else "finished_sheet"
        with Opened(truth, config, scratch) as scan:
            started = time.process_time()
            given = Classified(kind, 1.0, "positive", 1.0)  # type: ignore[arg-type]
            folded = fold(scan.page, scan.rendered, given, scan.checked, config.fold)
            made.append(Looked(truth, folded, time.process_time() - started))
    return made


def report(found: Sequence[Looked]) -> None:
    """Print the figures, and every scan that was told wrong."""
    wrong = [o for o in found if o.counted(False) != o.true_folds]
    for o in wrong:
        t = o.truth
        print(
            f"  {t.path.stem} {t.sort} wear {t.wear:.2f} {t.words or '-'}: "
            f"is {o.true_folds}, told {o.counted(False)}, printed {o.counted(True)}"
        )
    for sort in ("folded", "flat", "printed"):
        those = [o for o in found if o.truth.sort == sort]
        print(f"{sort}: pattern exact {wilson(sum(o not in wrong for o in those), len(those))}")
    print(f"all: pattern exact {wilson(len(found) - len(wrong), len(found))}")
    printed = [o for o in found if o.truth.sort == "printed"]
    print("printed-in called a fold, sheets:", wilson(sum(o.counted(False) != (0, 0) for o in printed), len(printed)))
    lines = sum(o.truth.vertical + o.truth.horizontal for o in printed)
    print("printed-in called a fold, lines:", wilson(sum(sum(o.counted(False)) for o in printed), lines))
    print("printed-in told as such:", wilson(sum(o.counted(True) != (0, 0) for o in printed), len(printed)))
    folded = [o for o in found if o.truth.sort == "folded"]
    print("folds told as printed in:", wilson(sum(o.counted(True) != (0, 0) for o in folded), len(folded)))
    flat = [o for o in found if o.truth.sort == "flat"]
    print("flat sheets with a fold:", wilson(sum(o.counted(False) != (0, 0) for o in flat), len(flat)))
    print("flat sheets with folds printed in:", wilson(sum(o.counted(True) != (0, 0) for o in flat), len(flat)))
    away = [abs(o.folded.skew_deg - o.truth.skew_deg) for o in found if o.folded.skew_deg is not None]
    near = sum(a <= 0.1 for a in away)
    print(f"skew told on {len(away)} of {len(found)}, within 0.1 degree:", wilson(near, len(away)))
    cpu = np.array([o.cpu_s for o in found])
    print(f"CPU-s a scan: {cpu.mean():.3f} mean, {np.percentile(cpu, 95):.3f} in 95 of 100, {cpu.max():.3f} most")


# ---- fitting --------------------------------------------------------------------------------------------------------


def true_lines(truth: FoldScan, axis: str) -> list[float]:
    """Where the lines across one stored axis lie, as shares."""
    upright = truth.rotation % 180 == 0
    count = truth.vertical if (axis == "x") == upright else truth.horizontal
    return [] if truth.sort == "flat" else [n / (count + 1) for n in range(1, count + 1)]


def fit(scans: Iterable[FoldScan], config: Config, scratch: Path) -> None:
    """Fit and print the weights of lines and ink."""
    through: list[tuple[dict[str, float], bool]] = []
    inside: list[tuple[dict[str, float], bool]] = []
    ink: list[tuple[dict[str, float], bool]] = []
    for truth in scans:
        with Opened(truth, config, scratch) as scan:
            corners = _corners(scan.rendered)
            per_mm = (scan.checked.ppi or truth.ppi) / MM_PER_INCH
            long_px = max(math.dist(corners[0], corners[1]), math.dist(corners[0], corners[3]))
            placed = (corners - (scan.page.box.left, scan.page.box.top)) / scan.page.stored_per_working
            flat, _ = flatten(scan.page.working, placed, min(2048, round(long_px / per_mm * 2)))
            tone, flat_per_mm = log_tone(flat), max(flat.shape[:2]) / (long_px / per_mm)
            paper = float(np.percentile(cv2.cvtColor(flat, cv2.COLOR_RGB2GRAY)[::4, ::4], config.fold.paper_percent))
            ends = "picture only" in truth.words and "no margins" not in truth.words
            for axis, view in (("x", tone), ("y", np.ascontiguousarray(tone.T))):
                mm = view.shape[1] / flat_per_mm
                real = true_lines(truth, axis)
                for trace in traces(view, flat_per_mm):
                    away = min((abs(trace.at - r) * mm for r in real), default=math.inf)
                    if SAME_MM < away <= OTHER_MM:
                        continue
                    is_line = away <= SAME_MM
                    weighed = trace.measures
                    through.append(({k: weighed[k] for k in config.fold.through.weights}, is_line and not ends))
                    inside.append(({k: weighed[k] for k in config.fold.inside.weights}, is_line))
                for at in real:
                    pattern = Pattern(axis, True, ((at, None),), 0.0)  # type: ignore[arg-type]
                    (found,) = _ink(scan.page, corners, pattern, per_mm, paper, config.fold)
                    seen = found.on if found else None
                    if seen and seen.length >= config.fold.ink.least_length and seen.open <= config.fold.ink.most_open:
                        measures = {"bare": max(0.0, seen.bare), "width_mm": seen.width_mm, "fine": seen.fine}
                        ink.append((measures, truth.sort == "folded"))
    for name, rows in (("through", through), ("inside", inside), ("ink", ink)):
        names = sorted(rows[0][0])
        values = np.array([[1.0, *(row[n] for n in names)] for row, _ in rows])
        is_line = np.array([float(y) for _, y in rows])
        start, *weights = logistic(values, is_line)
        share = is_line.mean()
        inner = ", ".join(f"{n} = {w:.2f}" for n, w in zip(names, weights, strict=True))
        print(f"[{name}] start = {start:.2f}, chance = {math.log(share / (1 - share)):.2f}, {{ {inner} }}")
        odds = values @ np.array([start, *weights])
        wrong = ((odds > 0) != (is_line > 0)).mean()
        print(f"  {len(rows)} lines, {int(is_line.sum())} true: {wrong:.4f} wrong at even odds")


def logistic(values: NDArray[np.float64], is_true: NDArray[np.float64], ridge: float = 0.3) -> list[float]:
    """Weights of a logistic regression, by Newton's steps; all but the first are drawn to nought by ``ridge``."""
    weights = np.zeros(values.shape[1])
    drawn = ridge * (np.arange(len(weights)) > 0)
    for _ in range(60):
        share = 1 / (1 + np.exp(-np.clip(values @ weights, -30, 30)))
        curve = (values * (share * (1 - share) + 1e-6)[:, None]).T @ values + np.diag(drawn)
        weights = weights + np.linalg.solve(curve, values.T @ (is_true - share) - drawn * weights)
    return [float(w) for w in weights]


def main(words: Sequence[str] | None = None) -> int:
    """Read the command line, paint, look, report."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.folds", description=__doc__)
    parser.add_argument("--work", type=Path, required=True, help="folder for painted scans")
    parser.add_argument("--seeds", type=int, nargs="+", required=True)
    parser.add_argument("--sheets", type=int, default=30, help="sheets of each seed, three scans each")
    parser.add_argument("--fit", action="store_true", help="print weights instead of figures")
    asked = parser.parse_args(words)
    config = load_config(CONFIG)
    scans = [one for seed in asked.seeds for one in painted(seed, asked.sheets, asked.work)]
    if asked.fit:
        fit(scans, config, asked.work)
    else:
        report(looked_at(scans, config, asked.work))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
