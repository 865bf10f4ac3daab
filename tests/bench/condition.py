"""How well worn places are told: ``python -m tests.bench.condition --work DIR --seeds 401 402 [--sheets 14] [--show]``.

Paints sheets (tests/bench/condition_sheets.py) that are not there yet, looks at each scan as the night does, and prints
for every sort, on or off, how many planted places were found, how many named ones were there, and how many false ones
a sheet. The kind is given, as it is measured elsewhere. Seeds 301 and 302 were tuned on.
"""

import argparse
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import cv2

from intake.config.load import Config, load_config
from intake.imaging.original import open_original
from intake.model import Box, Classified, PartKey, Place
from intake.stages.check import check
from intake.stages.condition import propose
from intake.stages.fold import fold
from intake.stages.render import render
from tests.bench.condition_sheets import WornScan, painted_scans
from tests.bench.figures import wilson
from tests.made import CONFIG

SLACK_MM = 4.0
# A gap told as the other sort of gap is at its place all the same: the desk's words are corrected by one choice.
ALIKE = ({"missing_corner", "missing_paper", "tear", "edge_wear"},)


def looked_at(scan: WornScan, config: Config, scratch: Path) -> tuple[list[Place], float]:
    """The places of every sort on one scan, and the CPU seconds of that stage."""
    with open_original(scan.path, config.check, scratch) as original:
        checked = check(scan.path, original, config.check)
        page = original.page(PartKey("0" * 64, 1), checked.parts[0])
        rendered = render(page, config.render)
        folded = fold(page, rendered, Classified("finished_sheet", 1.0, "positive", 1.0), checked, config.fold)
        if len(rendered.outline) != 4:
            return [], 0.0
        started = time.process_time()
        found, _ = propose(page, rendered, folded, checked, config.condition)
        return found, time.process_time() - started


def meets(box: Box, planted: tuple[float, float, float, float], slack: float) -> bool:
    """Do the two overlap, within ``slack`` pixels?"""
    return (
        box.left < planted[2] + slack
        and box.left + box.width > planted[0] - slack
        and box.top < planted[3] + slack
        and box.top + box.height > planted[1] - slack
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("--seeds", type=int, nargs="+", required=True)
    parser.add_argument("--sheets", type=int, default=14)
    parser.add_argument("--show", action="store_true", help="name every miss and every false place")
    asked = parser.parse_args(arguments)
    config = load_config(CONFIG)
    cv2.setNumThreads(1)
    planted, found, named, right, other = Counter[str](), Counter[str](), Counter[str](), Counter[str](), Counter[str]()
    sheets, spent = 0, 0.0
    for seed in asked.seeds:
        for scan in painted_scans(seed, asked.sheets, asked.work):
            places, cpu_s = looked_at(scan, config, asked.work)
            sheets, spent, slack = sheets + 1, spent + cpu_s, SLACK_MM * scan.ppi / 25.4
            for sort, box in scan.places:
                planted[sort] += 1
                hit = any(p.sort == sort and meets(p.box, box, slack) for p in places)
                found[sort] += hit
                if not hit and asked.show:
                    print(f"  missed {scan.path.stem} {sort} {[round(v) for v in box]} {scan.bed} {scan.words}")
            for p in places:
                named[p.sort] += 1
                there = {sort for sort, box in scan.places if meets(p.box, box, slack)}
                right[p.sort] += p.sort in there
                kin = any(p.sort in some and there & some for some in ALIKE) and p.sort not in there
                other[p.sort] += kin
                if p.sort not in there and asked.show:
                    print(f"  {'other' if kin else 'FALSE'} {scan.path.stem} {p.sort} {tuple(p.box)} {p.words}")
    for sort, row in config.condition.sorts.items():
        false = named[sort] - right[sort] - other[sort]
        print(f"{sort:15s} {'on ' if row.on else 'off'} found {wilson(found[sort], planted[sort])}")
        print(f"{'':15s}     named {named[sort]}: there {right[sort]}, another gap there {other[sort]}, ", end="")
        print(f"false a sheet {false / max(1, sheets):.3f}")
    print(f"{sheets} scans, {spent / max(1, sheets):.3f} CPU-s each")


if __name__ == "__main__":
    main()
