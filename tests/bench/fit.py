"""Fit the tables of config/match.toml on archives made of the tuning pictures; prints them.

    python -m tests.bench.fit --work FOLDER --seeds 1 2

The committed sample and the reporting pictures are never fitted on.
"""

import argparse
import itertools
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from intake.stages.match import Measures, terms
from tests.bench.archive import SIZES, made, truth_of
from tests.bench.pairs import described, jobs_of, looked_twice, match_rules, measured, proposed, shortlists

Row = tuple[Measures, str]
Numbers = NDArray[np.float64]
# What may only speak for one design, and what only against it: a table that runs the other way would be no evidence to
# show.
FOR = ("share", "likeness", "moved", "spread", "edges", "within")
AGAINST = ("rival", "chance", "seen")
# Where tables bend: shares of all pairs whose value is lower. Beyond the outermost a table is level.
BENDS = (0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98)
FEW_BENDS = (0.1, 0.5, 0.9)
# The larger an archive, the more strangers each part meets in it, and no more mates. same_design is told for an archive
# four times as large as those fitted on, about four thousand scans, by correcting the prior (King & Zeng 2001).
TIMES_AS_LARGE = 4.0


def rows_of(work: Path, seed: int) -> list[Row]:
    """Every shortlisted pair of one tuning archive with a geometry, what is asked for too, and its truth."""
    rules = match_rules()
    archive = described(*made(work, "tune", seed, *SIZES["tune"]))
    lists, _ = shortlists(archive, rules)
    found = measured(archive, jobs_of(proposed(lists, range(len(archive.views)))), rules)
    views = archive.views
    return [(m, truth_of(views[a], views[b])) for a, b, m in found if m]


def fit_logistic(rows: Numbers, truth: NDArray[np.bool_], ridge: float = 1.0) -> Numbers:
    """Weights of a ridge logistic regression on scaled columns (the first, the prior, is free), by Newton's method."""
    scale = rows.std(axis=0)
    scale[scale < 1e-9] = 1.0
    scaled = rows / scale
    weights = np.zeros(rows.shape[1])
    hold = np.diag([0.0] + [ridge] * (rows.shape[1] - 1))
    for _ in range(80):
        p = 1 / (1 + np.exp(-np.clip(scaled @ weights, -30, 30)))
        slope = scaled.T @ (truth - p) - hold @ weights
        curve = (scaled * (p * (1 - p))[:, None]).T @ scaled + hold + 1e-9 * np.eye(len(weights))
        step = np.linalg.solve(curve, slope)
        weights += step
        if np.abs(step).max() < 1e-8:
            break
    return weights / scale


def fit_signed(signs: Numbers, rows: Numbers, truth: NDArray[np.bool_]) -> Numbers:
    """The same without the columns whose weight would have the wrong sign: the worst is dropped until none is left."""
    kept = np.ones(len(signs), bool)
    while True:
        weights = np.zeros(len(signs))
        weights[kept] = fit_logistic(rows[:, kept], truth)
        wrong = np.where(kept & (signs * weights < 0), np.abs(weights) * rows.std(axis=0), 0)
        if not wrong.any():
            return weights
        kept[wrong.argmax()] = False


def tables(
    names: list[str], values: Numbers, truth: NDArray[np.bool_], shares: Sequence[float], *, signed: bool
) -> str:
    """One section of match.toml, its tables bent at ``shares``; told from the median of the pairs not ``truth``."""
    columns, signs, bends = [np.ones(len(values))], [0], []
    for name, value in zip(names, values.T, strict=True):
        at = np.unique(np.round(np.quantile(value, shares), 3))
        columns += [np.clip(value - low, 0, high - low) for low, high in itertools.pairwise(at)]
        signs += [signed * ((name in FOR) - (name in AGAINST))] * (len(at) - 1)
        bends.append(at)
    weights = fit_signed(np.array(signs, float), np.column_stack(columns), truth)
    prior, lines, begin = weights[0] - signed * math.log(TIMES_AS_LARGE), [], 1
    for name, at, value in zip(names, bends, values.T, strict=True):
        steps = weights[begin : begin + len(at) - 1] * np.diff(at)
        begin += len(steps)
        says = np.r_[0.0, np.cumsum(steps)]
        usual = float(np.interp(np.median(value[~truth]), at, says))
        prior += usual
        told = [", ".join(f"{number:.{digits}f}" for number in row) for row, digits in ((at, 3), (says - usual, 2))]
        lines.append(f"{name} = {{ at = [{told[0]}], says = [{told[1]}] }}")
    return "\n".join([f"prior = {prior:.2f}", *lines])


def _second(work: Path, seeds: Sequence[int]) -> str:
    """The weights of section [second]: of pairs that a first look leaves undecided, one design against all else."""
    rows, truth = [], []
    for seed in seeds:
        archive = described(*made(work, "tune", seed, *SIZES["tune"]))
        lists, _ = shortlists(archive, match_rules())
        jobs = jobs_of(proposed(lists, range(len(archive.views))))
        for a, b, first, closer in looked_twice(archive, jobs, match_rules()):
            rows.append((1.0, first, closer))
            truth.append(truth_of(archive.views[a], archive.views[b]) == "same")
    prior, first, closer = fit_logistic(np.array(rows), np.array(truth))
    told = f"# {len(truth)} pairs, {sum(truth)} of one design"
    return f"{told}\nprior = {prior - math.log(TIMES_AS_LARGE):.2f}\nfirst = {first:.2f}\ncloser = {closer:.2f}"


def main() -> None:
    """Fit as the command line says: the same design against all else, and a shared element against strangers."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seeds", type=int, nargs="+", required=True)
    ask.add_argument(
        "--second", action="store_true", help="how a first look and a closer one add up, with the tables that are"
    )
    told = ask.parse_args()
    if told.second:
        print(_second(told.work, told.seeds))
        return
    rows = [row for seed in told.seeds for row in rows_of(told.work, seed)]
    names = [name for name, _, _ in terms(rows[0][0])]
    values = np.array([[value for _, _, value in terms(m)] for m, _ in rows])
    truth = np.array([t for _, t in rows])
    apart = truth != "same"
    print(f"[same_design]\n{tables(names, values, truth == 'same', BENDS, signed=True)}\n")
    print(f"[shared_element]\n{tables(names, values[apart], truth[apart] == 'shared', FEW_BENDS, signed=False)}")


if __name__ == "__main__":
    main()
