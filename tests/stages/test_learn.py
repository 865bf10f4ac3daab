"""Learning from ruled pairs, beside scikit-learn: Platt's fit, Brier score, logarithmic loss, reliability."""

import numpy as np
import pytest
from sklearn.calibration import calibration_curve
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import brier_score_loss, log_loss
from sklearn.model_selection import GroupKFold

from intake.stages.learn import Ruled, fit, learn, score


def _pairs(seed: int, slope: float, offset: float, count: int = 600) -> list[Ruled]:
    """Pairs whose true log-odds are ``slope`` * said + ``offset``; eight pairs a ruling."""
    random = np.random.default_rng(seed)
    said = random.normal(0.5, 3, count)
    true = random.random(count) < 1 / (1 + np.exp(-(slope * said + offset)))
    return [Ruled(float(w), bool(s), n // 8) for n, (w, s) in enumerate(zip(said, true, strict=True))]


def _arrays(pairs: list[Ruled]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([p.log_odds for p in pairs]), np.array([p.same for p in pairs])


@pytest.mark.parametrize("seed", range(6))
def test_the_fit_is_the_reference_s(seed: int) -> None:
    """scikit-learn's logistic regression without a penalty, on Platt's targets as weights of both classes."""
    w, same = _arrays(_pairs(seed, 0.6 + 0.2 * seed, -1 + 0.4 * seed, 60 + 40 * seed))
    yes, no = same.sum(), (~same).sum()
    target = np.where(same, (yes + 1) / (yes + 2), 1 / (no + 2))
    both, labels = np.concatenate([w, w])[:, None], np.repeat([1, 0], len(w))
    reference = LogisticRegression(C=1e12, tol=1e-10, max_iter=2_000)
    reference.fit(both, labels, sample_weight=np.concatenate([target, 1 - target]))
    slope, offset = fit(w, same)
    assert slope == pytest.approx(reference.coef_[0, 0], abs=2e-4)
    assert offset == pytest.approx(reference.intercept_[0], abs=2e-4)


def test_scores_are_the_reference_s() -> None:
    w, same = _arrays(_pairs(11, 1.0, 0.0))
    said = 1 / (1 + np.exp(-w))
    told = score(said, same, 10)
    assert told.brier == pytest.approx(brier_score_loss(same, said))
    assert told.log_loss == pytest.approx(log_loss(same, said))
    was, mean = calibration_curve(same, said, n_bins=10)
    assert [b.was for b in told.bins] == pytest.approx(list(was))
    assert [b.said for b in told.bins] == pytest.approx(list(mean))
    assert sum(b.pairs for b in told.bins) == len(w)


def test_what_was_off_is_found_and_cross_validation_says_that_it_helps() -> None:
    lesson = learn(_pairs(3, 0.5, -1.5, 2_000), 20, 5, 10)
    assert lesson is not None
    assert lesson.slope == pytest.approx(0.5, abs=0.08) and lesson.offset == pytest.approx(-1.5, abs=0.2)
    assert lesson.after.brier < lesson.before.brier - 0.02
    worst = max(abs(b.said - b.was) for b in lesson.after.bins if b.pairs > 60)
    assert worst < 0.08 < max(abs(b.said - b.was) for b in lesson.before.bins if b.pairs > 60)


def test_cross_validation_is_the_reference_s_by_ruling() -> None:
    """Each pair as told by a fit on other rulings alone: scikit-learn's fit on the same folds."""
    pairs = _pairs(5, 0.7, 0.6, 160)
    w, same = _arrays(pairs)
    groups = np.array([p.ruling for p in pairs])
    said = np.empty(len(w))
    for n in range(4):
        out = np.unique(groups, return_inverse=True)[1] % 4 == n
        a, b = fit(w[~out], same[~out])
        said[out] = 1 / (1 + np.exp(-(a * w[out] + b)))
    lesson = learn(pairs, 10, 4, 10)
    assert lesson is not None and lesson.after.brier == pytest.approx(brier_score_loss(same, said))
    folds = list(GroupKFold(4).split(w, same, groups))
    assert all(not set(groups[a]) & set(groups[b]) for a, b in folds)  # what the folds above keep to as well


def test_what_was_right_stays_nearly_so() -> None:
    lesson = learn(_pairs(8, 1.0, 0.0, 2_000), 20, 5, 10)
    assert lesson is not None
    assert lesson.slope == pytest.approx(1, abs=0.12) and abs(lesson.offset) < 0.2
    assert abs(lesson.after.brier - lesson.before.brier) < 0.002


def test_too_few_or_contrary_rulings_teach_nothing_and_clear_ones_stay_finite() -> None:
    assert learn(_pairs(1, 1, 0, 30), 20, 5, 10) is None
    assert learn([Ruled(-p.log_odds, p.same, p.ruling) for p in _pairs(1, 2, 0)], 20, 5, 10) is None
    clear = [Ruled(4.0 if n % 2 else -4.0, bool(n % 2), n) for n in range(80)]
    lesson = learn(clear, 20, 5, 10)
    assert lesson is not None and 0 < lesson.slope < 2
