"""What a second look at pairs that keypoints left undecided would bring, in an archive of the matching bench.

    python -m tests.bench.second_look --work FOLDER [--side report --seed 11] [--encoder encoder.npz]

Four ways, of which the first is shipped (tests/bench/train/CARD.md says why): keypoints three times as dense from a
larger picture, in the variant that is doubted; besides, those of four views of one of the two tilted by 45 degrees
(after ASIFT; Morel & Yu 2009); whether edges, window by window, fit best where that geometry says; descriptors written
anew by tests/bench/train/reencode.py. Each is added to the evidence there is by a logistic regression fitted on other
designs (six folds), and all of it by one, so every figure is of designs not fitted on.
"""

import argparse
import functools
import math
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import GroupKFold, cross_val_predict

from intake.imaging import pairing
from intake.imaging.features import Features
from intake.imaging.geometry import Matrix
from intake.imaging.keypoints import describe
from intake.imaging.permute import STEP, Variant
from intake.stages.fingerprint import fingerprint
from intake.stages.match import log_odds, measure
from tests.bench.archive import SIZES, made
from tests.bench.pairs import (
    Archive,
    described,
    fingerprint_rules,
    jobs_of,
    match_rules,
    measured,
    proposed,
    shortlists,
    true_pairs,
)

_SIDE_PX, _WINDOW_PX, _STEP_PX, _REACH_PX = 320, 36, 18, 10
_STRUCTURED = 0.03
_PRESSED = 2**-0.5
_PRECISIONS = (0.98, 0.95, 0.90)

Likeness = Callable[[NDArray[np.uint8], NDArray[np.uint8]], NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class Looked:
    """Log-odds by denser keypoints, by those of tilted views besides, and by descriptors written anew; the share of
    structured windows whose edges fit best within 2 and 4 px of where the geometry says, and how sharply."""

    denser: float
    tilted: float
    anew: float
    near: float
    nearby: float
    sharp: float
    cpu_s: float


def main() -> None:
    """Make the archive, look twice, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--side", choices=SIZES, default="report")
    ask.add_argument("--seed", type=int, default=11)
    ask.add_argument("--encoder", type=Path)
    told = ask.parse_args()
    views, folder = made(told.work, told.side, told.seed, *SIZES[told.side])
    archive, rules = described(views, folder), match_rules()
    lists, _ = shortlists(archive, rules)
    jobs = jobs_of(proposed(lists, archive.held))
    true = set(true_pairs(archive))
    found = measured(archive, jobs, rules)
    low, high = (math.log(p / (1 - p)) for p in (rules.second.least, rules.second.sure))
    first = [None if m is None else log_odds(m, rules) for _, _, m in found]
    doubted = [n for n, w in enumerate(first) if w is not None and low <= w < high]
    sure = sum(w is not None and w >= high and jobs[n][:2] in true for n, w in enumerate(first))
    print(f"{len(true)} true pairs: {sure} sure by keypoints, {sum(jobs[n][:2] in true for n in doubted)} undecided")
    _shared.update(archive=archive, folder=folder, encoder=dict(np.load(told.encoder)) if told.encoder else None)
    with ProcessPoolExecutor(2, get_context("fork")) as workers:
        looked = list(workers.map(_look, [jobs[n] for n in doubted], chunksize=8))
    _report(archive, [jobs[n][:2] for n in doubted], [first[n] or 0.0 for n in doubted], looked, true)


_shared: dict[str, object] = {}


def _look(job: tuple[int, int, tuple[Variant, ...]]) -> Looked:
    cv2.setNumThreads(1)
    started = time.process_time()
    archive, encoder, rules = _shared["archive"], _shared["encoder"], match_rules()
    assert isinstance(archive, Archive)
    a, b, variants = job
    one, other = archive.features[a], archive.features[b]
    best = measure(one, other, variants, rules)
    assert best is not None
    denser = measure(_denser(a), _denser(b), [best[0].variant], rules)
    tilted = measure(_tilted(a), _denser(b), [best[0].variant], rules)
    anew = None
    if isinstance(encoder, dict):
        plain, pairing._likeness = pairing._likeness, written_anew(encoder)
        anew = measure(one, other, variants, rules)
        pairing._likeness = plain
    transform = denser[0].transform if denser else best[0].transform
    sides = (_denser(a), _denser(b)) if denser else (one, other)
    fit = _fit((_grey(a, sides[0]), _grey(b, sides[1])), transform)
    spent = time.process_time() - started
    said = [log_odds(x and x[2], rules) for x in (denser, tilted, anew)]
    return Looked(said[0], said[1], said[2], *fit, spent)


@functools.lru_cache(maxsize=600)
def _denser(view: int) -> Features:
    """Keypoints of a larger picture, three times as many."""
    return fingerprint(_read(view), 1.0, (), "unknown", match_rules().second.applied(fingerprint_rules()))[1]


@functools.lru_cache(maxsize=100)
def _tilted(view: int) -> Features:
    """The same, and the keypoints of the picture pressed together by the root of 2 in four directions."""
    plain, rules = _denser(view), match_rules().second.applied(fingerprint_rules())
    box = plain.frame_box
    grey = cv2.cvtColor(_read(view), cv2.COLOR_RGB2GRAY)
    grey = grey[box.top : box.top + box.height, box.left : box.left + box.width]
    small = cv2.resize(grey, (round(plain.width), round(plain.height)), interpolation=cv2.INTER_AREA)
    points, descriptors = [plain.points], [plain.descriptors]
    for turn in np.radians([0, 45, 90, 135]):
        cos, sin = np.cos(turn), np.sin(turn)
        press = np.array([[cos, sin], [-sin, cos]]).T @ np.diag([_PRESSED, 1]) @ np.array([[cos, sin], [-sin, cos]])
        corners = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * (plain.width, plain.height) @ press.T
        low = corners.min(axis=0)
        size = np.ceil(corners.max(axis=0) - low).astype(int)
        view_px = cv2.warpAffine(small, np.column_stack([press, -low]), size.tolist(), borderMode=cv2.BORDER_REPLICATE)
        found, told = describe(np.asarray(view_px, np.uint8), rules)
        angle = np.radians(found[:, 3])
        back = np.linalg.inv(press)
        along = np.column_stack([np.cos(angle), np.sin(angle)]) @ back.T
        found[:, :2] = (found[:, :2] + low) @ back.T
        found[:, 2] *= np.sqrt(np.linalg.det(back))
        found[:, 3] = np.degrees(np.arctan2(along[:, 1], along[:, 0])) % 360
        inside = ((found[:, :2] >= 0) & (found[:, :2] < (plain.width, plain.height))).all(axis=1)
        points.append(found[inside])
        descriptors.append(told[inside])
    return replace(plain, points=np.vstack(points), descriptors=np.vstack(descriptors))


def _read(view: int) -> NDArray[np.uint8]:
    archive, folder = _shared["archive"], _shared["folder"]
    assert isinstance(archive, Archive) and isinstance(folder, Path)
    return np.ascontiguousarray(cv2.imread(str(folder / f"{archive.views[view].name}.png"))[..., ::-1])


def _grey(view: int, features: Features) -> tuple[NDArray[np.uint8], float]:
    """The picture within its border at 320 px, and its pixels per frame pixel."""
    box = features.frame_box
    grey = cv2.cvtColor(_read(view), cv2.COLOR_RGB2GRAY)[
        box.top : box.top + box.height, box.left : box.left + box.width
    ]
    scale = _SIDE_PX / max(grey.shape)
    size = (max(8, round(grey.shape[1] * scale)), max(8, round(grey.shape[0] * scale)))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8), size[0] / features.width


def _structure(grey: NDArray[np.uint8]) -> NDArray[np.float32]:
    """(h, w, 2): which way edges run, whichever side is the lighter, as strong as their neighbours leave them."""
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 1.2)
    x, y = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    strength = x * x + y * y
    around = cv2.GaussianBlur(strength, (0, 0), 12) + 20
    return np.dstack([x * x - y * y, 2 * x * y]) / np.sqrt(strength * around + 1e-6)[..., None]


def _fit(pictures: tuple[tuple[NDArray[np.uint8], float], ...], transform: Matrix) -> tuple[float, float, float]:
    """How many windows fit best within 2 and 4 px of where ``transform`` says, and how much better than elsewhere."""
    (a, scale_a), (b, scale_b) = pictures
    laid = np.diag([scale_b, scale_b, 1]) @ transform @ np.diag([1 / scale_a, 1 / scale_a, 1])
    high, wide = b.shape
    over = cv2.warpPerspective(a, laid, (wide, high), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
    inside = cv2.warpPerspective(np.full(a.shape, 255, np.uint8), laid, (wide, high))
    one, other = _structure(np.asarray(over, np.uint8)), _structure(b)
    energy_a, energy_b = (one**2).sum(2), (other**2).sum(2)
    off, sharp = [], []
    for top in range(_REACH_PX, high - _WINDOW_PX - _REACH_PX, _STEP_PX):
        for left in range(_REACH_PX, wide - _WINDOW_PX - _REACH_PX, _STEP_PX):
            here = np.s_[top : top + _WINDOW_PX, left : left + _WINDOW_PX]
            around = np.s_[
                top - _REACH_PX : top + _WINDOW_PX + _REACH_PX, left - _REACH_PX : left + _WINDOW_PX + _REACH_PX
            ]
            if inside[here].min() < 255 or min(energy_a[here].mean(), energy_b[here].mean()) < _STRUCTURED:
                continue
            fits = sum(
                cv2.matchTemplate(
                    np.ascontiguousarray(other[around][..., k]), np.ascontiguousarray(one[here][..., k]), cv2.TM_CCORR
                )
                for k in (0, 1)
            )
            whole = (_WINDOW_PX, _WINDOW_PX)
            energy = cv2.boxFilter(energy_b[around], -1, whole, normalize=False, anchor=(0, 0))[
                : fits.shape[0], : fits.shape[1]
            ]
            fits = fits / np.sqrt(np.maximum(energy * energy_a[here].sum(), 1e-6))
            best = np.unravel_index(int(fits.argmax()), fits.shape)
            off.append(max(abs(int(best[0]) - _REACH_PX), abs(int(best[1]) - _REACH_PX)))
            sharp.append(float(fits[_REACH_PX, _REACH_PX] - fits.mean()))
    if len(off) < 3:
        return 0.0, 0.0, 0.0
    return float(np.mean(np.array(off) <= 2)), float(np.mean(np.array(off) <= 4)), float(np.mean(sharp))


def written_anew(weights: dict[str, NDArray[np.float32]]) -> Likeness:
    """Cosines of descriptors written anew, on the scale of those as they are: the median and the highest .1, .01 and
    .001 of strangers of tuning seed 1 stand at the same values."""
    at, to = [-1.0, 0.011, 0.215, 0.404, 0.562, 1.0], [0.15, 0.648, 0.764, 0.846, 0.896, 1.0]

    def encoded(descriptors: NDArray[np.uint8]) -> NDArray[np.float32]:
        x = descriptors.astype(np.float32) * STEP
        x /= np.maximum(np.linalg.norm(x, axis=1, keepdims=True), 1e-6)
        h = (x - 0.07) * 8
        for layer in (0, 3):
            h = np.maximum(h @ weights[f"layers.{layer}.weight"].T + weights[f"layers.{layer}.bias"], 0)
        y = x + h @ weights["layers.6.weight"].T + weights["layers.6.bias"]
        return np.asarray(y / np.linalg.norm(y, axis=1, keepdims=True), np.float32)

    def likeness(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> NDArray[np.float32]:
        return np.interp(encoded(a) @ encoded(b).T, at, to).astype(np.float32)

    return likeness


def _report(
    archive: Archive,
    pairs: list[tuple[int, int]],
    first: list[float],
    looked: list[Looked],
    true: set[tuple[int, int]],
) -> None:
    right = np.array([pair in true for pair in pairs])
    designs = np.unique([archive.views[a].design for a, _ in pairs], return_inverse=True)[1]
    ways = {
        "keypoints as they are": [],
        "denser keypoints": [[x.denser for x in looked]],
        "and of tilted views": [[x.tilted for x in looked]],
        "where edges fit": [[x.near for x in looked], [x.nearby for x in looked], [x.sharp for x in looked]],
        "descriptors written anew": [[x.anew for x in looked]],
    }
    ways["all together"] = [column for columns in ways.values() for column in columns]
    cost = np.median([x.cpu_s for x in looked])
    print(f"{len(pairs)} undecided pairs, {right.sum()} of one design; {cost:.2f} CPU-s a pair")
    for name, columns in ways.items():
        said = _said(np.column_stack([first, *columns]), right, designs)
        order = np.argsort(-said)
        good = np.cumsum(right[order])
        share = good / np.arange(1, len(good) + 1)
        held = [int(good[np.flatnonzero(share >= p)[-1]]) if (share >= p).any() else 0 for p in _PRECISIONS]
        told = ", ".join(f"{n} at {p}" for n, p in zip(held, _PRECISIONS, strict=True))
        print(f"  {name:<26} area under the curve {roc_auc_score(right, said):.3f}; true found at precision: {told}")


def _said(columns: NDArray[np.float64], right: NDArray[np.bool_], designs: NDArray[np.intp]) -> NDArray[np.float64]:
    scaled = (columns - columns.mean(0)) / np.maximum(columns.std(0), 1e-9)
    fit = LogisticRegression(max_iter=2000)
    said = cross_val_predict(fit, scaled, right, groups=designs, cv=GroupKFold(6), method="predict_proba")
    return np.asarray(said[:, 1], np.float64)


if __name__ == "__main__":
    main()
