"""Fit the weights of config/match.toml on archives made of the tuning pictures; prints the two tables.

    python -m tests.bench.fit --work FOLDER --seeds 1 2

The committed sample and the reporting pictures are never fitted on.
"""

import argparse
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from intake.stages.match import Measures, terms
from tests.bench.archive import SIZES, made, truth_of
from tests.bench.pairs import described, jobs_of, match_rules, measured, proposed, shortlists

Row = tuple[Measures, str]
# What may only speak for one design, and what only against it: a weight of the other sign would be no evidence to show.
FOR = ("places", "likeness", "moved", "agreeing_area")
AGAINST = ("rival", "unlike_area", "chance")


def rows_of(work: Path, seed: int) -> list[Row]:
    """Every shortlisted pair of one tuning archive with a geometry, and its truth."""
    rules = match_rules()
    archive = described(*made(work, "tune", seed, *SIZES["tune"]))
    lists, _ = shortlists(archive, rules)
    found = measured(archive, jobs_of(proposed(archive, lists)), rules)
    views = archive.views
    return [(m, truth_of(views[a], views[b])) for a, b, m in found if m]


def fit_logistic(rows: NDArray[np.float64], truth: NDArray[np.bool_], ridge: float = 0.3) -> NDArray[np.float64]:
    """Weights of a ridge logistic regression on scaled columns (the prior is not drawn to 0), by Newton's method."""
    scale = np.maximum(rows.std(axis=0), 1e-6)
    scale[0] = 1.0
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


def fit_signed(names: list[str], rows: NDArray[np.float64], truth: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The same without the columns whose weight would have the wrong sign: the worst is dropped until none is left."""
    sign = np.array([1 if n in FOR else -1 if n in AGAINST else 0 for n in names])
    kept = np.ones(len(names), bool)
    weights = np.zeros(len(names))
    while True:
        weights[:] = 0
        weights[kept] = fit_logistic(rows[:, kept], truth)
        wrong = np.where(kept & (sign * weights < 0), np.abs(weights) * rows.std(axis=0), 0)
        if not wrong.any():
            return weights
        kept[wrong.argmax()] = False


def fit(rows: list[Row]) -> dict[str, NDArray[np.float64]]:
    """Weights for the same design against all else, and for a shared element against strangers."""
    names = [name for name, _, _ in terms(rows[0][0])]
    values = np.array([[value for _, _, value in terms(m)] for m, _ in rows])
    truth = np.array([t for _, t in rows])
    apart = truth != "same"
    return {
        "same_design": fit_signed(names, values, truth == "same"),
        "shared_element": fit_logistic(values[apart], truth[apart] == "shared"),
    }


def main() -> None:
    """Fit as the command line says."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seeds", type=int, nargs="+", required=True)
    told = ask.parse_args()
    rows = [row for seed in told.seeds for row in rows_of(told.work, seed)]
    names = [name for name, _, _ in terms(rows[0][0])]
    for table, weights in fit(rows).items():
        print(f"[{table}]")
        print("\n".join(f"{name} = {value:.2f}" for name, value in zip(names, weights, strict=True)))


if __name__ == "__main__":
    main()
