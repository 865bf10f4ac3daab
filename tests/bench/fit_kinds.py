"""Fit the weights of config/classify.toml on painted pieces; rewrites the file's numbers in place.

    python -m tests.bench.fit_kinds FOLDER [FOLDER ...]

Each folder is what tests/bench/looking.py painted with a tuning seed. Which rule speaks for or against which kind
stays as a person wrote it, and so does each weight's sign: only sizes are fitted, by a multinomial logistic regression
that is drawn towards the written weights, so that a rule which no painted piece tries keeps what it says.
"""

import argparse
import csv
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from intake.imaging.original import open_original
from intake.imaging.traits import Traits, read_traits
from intake.model import PartKey
from intake.stages.check import check
from intake.stages.classify import fires
from intake.stages.render import render
from tests.made import CONFIG, SETTINGS

# How strongly weights are drawn to what was written, in pieces a unit of log-odds squared.
HOLD = 2.0
STEPS = 5000
RULES = SETTINGS.classify


def pieces_of(folder: Path) -> Iterator[tuple[str, Traits]]:
    """Kind and traits of every piece of a painted consignment; scans whose pieces were not told apart are left out."""
    rows = defaultdict(list)
    with (folder / "expected" / "scans.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            rows[row["scan"]].append(row)
    kept = folder / "kept"
    kept.mkdir(exist_ok=True)
    for path, true in rows.items():
        with open_original(folder / "scans" / path, SETTINGS.check, kept) as original:
            checked = check(folder / "scans" / path, original, SETTINGS.check)
            if len(checked.parts) != len(true):
                continue
            for found in checked.parts:
                page = original.page(PartKey("0" * 64, found.part), found)
                yield true[0]["kind"], read_traits(page, render(page, SETTINGS.render), checked, RULES)


def main() -> None:
    """Fit and write."""
    ask = argparse.ArgumentParser()
    ask.add_argument("folders", nargs="+", type=Path)
    pieces = [one for folder in ask.parse_args().folders for one in pieces_of(folder)]
    kinds = list(RULES.start)
    pieces = [(kind, traits) for kind, traits in pieces if kind in kinds]
    fired = np.array([[float(fires(rule, traits)) for rule in RULES.rules] for _, traits in pieces])
    truth = np.array([kinds.index(kind) for kind, _ in pieces])  # type: ignore[arg-type]
    written = np.array([[rule.weights.get(kind, 0.0) for kind in kinds] for rule in RULES.rules])
    weights = _fitted(fired, truth, written, np.array([RULES.start[kind] for kind in kinds]))
    right = (np.argmax(fired @ weights + [RULES.start[k] for k in kinds], axis=1) == truth).mean()
    print(f"{len(pieces)} pieces, {right:.3f} of their kinds led on the pieces fitted on")
    path = CONFIG / "classify.toml"
    text = path.read_text(encoding="utf-8")
    for rule, row in zip(RULES.rules, weights, strict=True):
        told = ", ".join(f"{kind} = {row[kinds.index(kind)]:.1f}" for kind in rule.weights)
        place = rf'(name = "{rule.name}"\n(?:.*\n)*?)weights = .*'
        text = re.sub(place, lambda m, told=told: f"{m.group(1)}weights = {{ {told} }}", text, count=1)
    path.write_text(text, encoding="utf-8")


def _fitted(
    fired: NDArray[np.float64], truth: NDArray[np.intp], written: NDArray[np.float64], start: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Weights (rules, kinds) by gradient steps; each keeps its sign, and a pair that was not written stays at none."""
    weights = written.copy()
    aim = np.eye(len(start))[truth]
    # half the largest curvature that the likelihood can have (Bohning 1992), and that of the hold
    rate = 1 / (0.5 * float(np.linalg.eigvalsh(fired.T @ fired)[-1]) + HOLD)
    for _ in range(STEPS):
        sums = fired @ weights + start
        share = np.exp(sums - sums.max(axis=1, keepdims=True))
        share /= share.sum(axis=1, keepdims=True)
        slope = fired.T @ (share - aim) + HOLD * (weights - written)
        weights -= rate * slope
        weights = np.where(written > 0, np.maximum(weights, 0), np.where(written < 0, np.minimum(weights, 0), 0))
    return weights


if __name__ == "__main__":
    main()
