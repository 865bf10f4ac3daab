"""From ruled pairs to a straighter match probability: a logistic curve of two numbers over the log-odds of matching.

The fit is Platt's (1999) with his targets, which keep it finite where the classes do not overlap, by Newton's method as
Lin, Lin and Weng (2007) have it. What it would have said of each pair is told by folds that never saw its ruling.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_ROUNDS = 100


@dataclass(frozen=True, slots=True)
class Ruled:
    """A pair that a person ruled on: the log-odds that matching gave it, whether it is one design, and which ruling."""

    log_odds: float
    same: bool
    ruling: int


@dataclass(frozen=True, slots=True)
class Bin:
    """Pairs whose probability lies between ``low`` and ``high``: their mean probability and the share that was so."""

    low: float
    high: float
    pairs: int
    said: float
    was: float


@dataclass(frozen=True, slots=True)
class Score:
    """How good probabilities are: Brier score and logarithmic loss (less is better), and their reliability."""

    brier: float
    log_loss: float
    bins: tuple[Bin, ...]


@dataclass(frozen=True, slots=True)
class Lesson:
    """Log-odds w become ``slope`` * w + ``offset``. ``before`` scores the pairs as matching has them, ``after`` as
    folds that never saw their rulings do."""

    slope: float
    offset: float
    same: int
    other: int
    rulings: int
    before: Score
    after: Score


def fit(log_odds: Floats, same: NDArray[np.bool_]) -> tuple[float, float]:
    """(slope, offset) of the logistic curve. Both (n,)."""
    yes, no = int(same.sum()), int((~same).sum())
    target = np.where(same, (yes + 1) / (yes + 2), 1 / (no + 2))
    design = np.stack([log_odds, np.ones_like(log_odds)], axis=1)
    solved = np.array([0.0, np.log((yes + 1) / (no + 1))])
    loss = _loss(design @ solved, target)
    for _ in range(_ROUNDS):
        p = _chance(design @ solved)
        slope = design.T @ (p - target)
        bend = (design * (p * (1 - p))[:, None]).T @ design + 1e-12 * np.eye(2)
        step = np.linalg.solve(bend, slope)
        share = 1.0
        while share > 1e-10 and _loss(design @ (solved - share * step), target) > loss:
            share /= 2
        solved = solved - share * step
        now = _loss(design @ solved, target)
        if loss - now < 1e-12:
            break
        loss = now
    return float(solved[0]), float(solved[1])


def learn(pairs: Sequence[Ruled], least_pairs: int, folds: int, bins: int) -> Lesson | None:
    """What these rulings teach; None where they are too few of either sort, or speak against the measures as such."""
    w = np.array([p.log_odds for p in pairs], np.float64)
    same = np.array([p.same for p in pairs], np.bool_)
    ruling = np.array([p.ruling for p in pairs], np.int64)
    if min(int(same.sum()), int((~same).sum())) < least_pairs:
        return None
    slope, offset = fit(w, same)
    if slope <= 0:
        return None
    said = np.empty_like(w)
    fold = np.unique(ruling, return_inverse=True)[1] % folds
    for n in range(folds):
        out = fold == n
        if out.any() and (~out).any():
            a, b = fit(w[~out], same[~out])
            said[out] = _chance(a * w[out] + b)
        else:
            said[out] = _chance(w[out])
    return Lesson(
        slope, offset, int(same.sum()), int((~same).sum()), len(set(ruling.tolist())),
        score(_chance(w), same, bins), score(said, same, bins),
    )  # fmt: skip


def score(said: Floats, same: NDArray[np.bool_], bins: int) -> Score:
    """Brier score (Brier 1950), logarithmic loss and reliability in ``bins`` equal bins, empty ones left out."""
    clipped = np.clip(said, 1e-12, 1 - 1e-12)
    loss = -float(np.mean(np.where(same, np.log(clipped), np.log(1 - clipped))))
    place = np.clip((said * bins).astype(int), 0, bins - 1)
    made = [
        Bin(n / bins, (n + 1) / bins, int(here.sum()), float(said[here].mean()), float(same[here].mean()))
        for n in range(bins)
        if (here := place == n).any()
    ]
    return Score(float(np.mean((said - same) ** 2)), loss, tuple(made))


def _chance(z: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(z, -500, 500))), np.float64)


def _loss(z: Floats, target: Floats) -> float:
    """Cross-entropy, without overflow."""
    return float(np.sum(np.logaddexp(0, z) - target * z))
