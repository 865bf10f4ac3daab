"""Fit the weights of config/match.toml on generated pairs and judge them on others.

    python -m tests.bench.fit --pictures FOLDER --seeds 101 102 --judge 151 --painted FOLDER --judge-painted FOLDER

FOLDER of pictures: any photographs and paintings (we used those of Debian's opencv-doc and mate-backgrounds). Painted
folders come from ``python -m sample_batch.paint --scans N --seed S --to FOLDER``, seeds from 100. The committed sample
is never fitted on. Prints the two tables of weights, then how held-out pairs fare.
"""

import argparse
import math
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.bench.pairs import Pair, compare, made, match_rules, painted, pictures_in, shared_in

NAMES = (
    "prior",
    "places",
    "agreement",
    "contrary",
    "agreeing_area",
    "unlike_area",
    "coverage",
    "closely",
    "drawn",
    "stretch",
)


def row_of(pair: Pair) -> list[float]:
    """The measures as intake/stages/match.py weighs them."""
    m = pair.measures
    assert m is not None
    return [
        1.0,
        math.log1p(m.places),
        m.agreement,
        m.contrary,
        math.sqrt(m.agreeing_area),
        math.sqrt(m.unlike_area),
        min(m.coverage_a, m.coverage_b),
        math.sqrt(m.close_share),
        m.drawn,
        math.log(m.stretch),
    ]


def fit_logistic(rows: NDArray[np.float64], truth: NDArray[np.bool_], ridge: float = 0.3) -> NDArray[np.float64]:
    """Weights of a ridge logistic regression (the prior is not drawn to 0), by Newton's method."""
    weights = np.zeros(rows.shape[1])
    hold = np.diag([0.0] + [ridge] * (rows.shape[1] - 1))
    for _ in range(60):
        p = 1 / (1 + np.exp(-np.clip(rows @ weights, -30, 30)))
        slope = rows.T @ (truth - p) - hold @ weights
        curve = (rows * (p * (1 - p))[:, None]).T @ rows + hold + 1e-9 * np.eye(len(weights))
        step = np.linalg.solve(curve, slope)
        weights += step
        if np.abs(step).max() < 1e-8:
            break
    return weights


def fit(pairs: Iterable[Pair]) -> dict[str, NDArray[np.float64]]:
    """Weights for the same design against all else, and for a shared element against strangers."""
    seen = [p for p in pairs if p.measures is not None]
    rows = np.array([row_of(p) for p in seen])
    truth = np.array([p.truth for p in seen])
    strangers = truth != "same"
    return {
        "same_design": fit_logistic(rows, truth == "same"),
        "shared_element": fit_logistic(rows[strangers], truth[strangers] == "shared"),
    }


def report(pairs: list[Pair], weights: NDArray[np.float64]) -> None:
    """Recall, false joins and calibration of the same-design probability."""
    seen = [p for p in pairs if p.measures is not None]
    odds = np.array([row_of(p) for p in seen]) @ weights
    probability = 1 / (1 + np.exp(-np.clip(odds, -6, 6)))
    truth = np.array([p.truth for p in seen])
    same = sum(p.truth == "same" for p in pairs)
    listed = sum(p.truth == "same" and p.shortlisted for p in pairs)
    print(f"true pairs {same}, shortlisted {listed / same:.3f}, with geometry {(truth == 'same').sum() / same:.3f}")
    for least in (0.5, 0.9, 0.99):
        said = probability >= least
        right = int((said & (truth == "same")).sum())
        print(
            f"p >= {least}: recall {right / same:.3f}, precision {right / max(1, said.sum()):.4f}, "
            f"shared joined {(said & (truth == 'shared')).sum()} of {(truth == 'shared').sum()}, "
            f"strangers joined {(said & (truth == 'other')).sum()} of {(truth == 'other').sum()}"
        )
    print(f"Brier {np.mean((probability - (truth == 'same')) ** 2):.4f}")


def main() -> None:
    """Fit and judge as the command line says."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--pictures", type=Path)
    ask.add_argument("--seeds", type=int, nargs="*", default=[])
    ask.add_argument("--judge", type=int, nargs="*", default=[])
    ask.add_argument("--painted", type=Path, nargs="*", default=[])
    ask.add_argument("--judge-painted", type=Path, nargs="*", default=[])
    ask.add_argument("--families", type=int, default=22)
    told = ask.parse_args()
    rules = match_rules()
    pictures = pictures_in(told.pictures) if told.pictures else []

    def taken(seeds: list[int], folders: list[Path]) -> list[Pair]:
        pairs = [p for s in seeds for p in compare(made(pictures, s, told.families), rules, set())]
        return pairs + [p for f in folders for p in compare(painted(f), rules, shared_in(f))]

    weights = fit(taken(told.seeds, told.painted))
    for table, values in weights.items():
        print(f"[{table}]")
        print("\n".join(f"{name} = {value:.2f}" for name, value in zip(NAMES, values, strict=True)))
    held_out = taken(told.judge, told.judge_painted)
    if held_out:
        report(held_out, weights["same_design"])


if __name__ == "__main__":
    main()
