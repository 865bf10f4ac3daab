"""How well places that look hand-signed are found: ``python -m tests.bench.signatures --first 400000 --pictures 80``.

Paintings of our own painter without its own signature; on two in three a signature or monogram of another make is
written (curves and loops, capitals run together, letters in a ring), in light, dark or coloured ink. Each is looked at
as painted, as a negative, or as a photograph of it. A third bears none. ``--fit`` prints the weights for
config/signature.toml. Seeds from 300000 on were tuned on, those from 400000 on are reported.
"""

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.signature import SignatureRules
from intake.imaging.handwriting import written_places
from intake.stages.signature import said, signed_places
from sample_batch.art.design import GENRES, Edits, paint
from tests.bench.figures import wilson
from tests.made import SETTINGS

Picture = NDArray[np.uint8]
Place = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """A picture, and where it is signed (left, top, right, bottom as shares), if it is."""

    pixels: Picture
    signed: Place | None
    view: str


def make(seed: int) -> Made:
    """The picture of this seed."""
    rng = np.random.default_rng(seed)
    genre = GENRES[seed % len(GENRES)]
    wide, high = (840, 1200) if rng.random() < 0.7 else (1200, 860)
    picture = paint(seed, genre, wide, high, Edits(signature=False)).pixels.copy()
    place = _sign(picture, rng) if seed % 3 else None
    view = str(rng.choice(["art", "art", "negative", "photograph"]))
    light = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), float(rng.uniform(0.3, 0.9))) / 255
    light = light ** float(rng.uniform(0.8, 1.3))
    if view != "art":
        light = np.repeat((light @ np.float32([0.3, 0.6, 0.1]))[..., None], 3, axis=2)
        light = 1 - 0.9 * light**0.7 if view == "negative" else light
    seen = np.clip(light * 255 + rng.normal(0, 3, light.shape), 0, 255).astype(np.uint8)
    packed = cv2.imencode(".jpg", seen, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(80, 95))])[1]
    return Made(cv2.imdecode(packed, cv2.IMREAD_COLOR), place, view)


def _sign(picture: Picture, rng: np.random.Generator) -> Place:
    high, wide = picture.shape[:2]
    tall = int(rng.uniform(0.022, 0.05) * high)
    strokes = _monogram(rng) if rng.random() < 0.25 else _capitals(rng) if rng.random() < 0.35 else _running(rng)
    points = np.concatenate(strokes)
    low, span = points.min(axis=0), np.ptp(points, axis=0)
    factor = tall / span[1]
    turn = np.radians(rng.uniform(-14, 8))
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    placed = [((s - low) * factor) @ spin for s in strokes]
    every = np.concatenate(placed)
    size = np.ptp(every, axis=0)
    corner = rng.random() < 0.8
    x = (
        rng.choice([rng.uniform(0.02, 0.12), 0.98 - size[0] / wide - rng.uniform(0, 0.1)])
        if corner
        else rng.uniform(0.1, 0.7)
    )
    y = rng.uniform(0.84, 0.97 - size[1] / high) if corner else rng.uniform(0.4, 0.9 - size[1] / high)
    at = np.array([x * wide, y * high]) - every.min(axis=0)
    ground = picture[int(y * high) : int(y * high + size[1]), int(x * wide) : int(x * wide + size[0])]
    dark = ground.mean() > 128 if rng.random() < 0.85 else ground.mean() > 90
    ink = rng.integers(0, 60, 3) if dark else rng.integers(190, 256, 3)
    if rng.random() < 0.25:
        ink = np.clip(ink + (np.array([120, 20, 20]) if dark else np.array([0, -20, -110])), 0, 255)
    width = max(1, round(tall * rng.uniform(0.06, 0.13)))
    layer = picture.copy()
    for s in placed:
        line = np.round((s + at) * 8).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(layer, [line], False, [int(v) for v in ink], width, cv2.LINE_AA, 3)
    share = float(rng.uniform(0.8, 1.0))
    picture[:] = (picture * (1 - share) + layer * share).astype(np.uint8)
    left, top = every.min(axis=0) + at
    return left / wide, top / high, (left + size[0]) / wide, (top + size[1]) / high


def _curve(points: Any, steps: int = 14) -> NDArray[np.float64]:
    """A Catmull-Rom curve through points."""
    p = np.asarray(points, np.float64)
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    made = []
    for a, b, c, d in zip(p, p[1:], p[2:], p[3:], strict=False):
        made.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    return np.concatenate([*made, p[-2:-1]])


def _running(rng: np.random.Generator) -> list[NDArray[np.float64]]:
    """A capital, then loops that run out, perhaps a stroke below."""
    letters = int(rng.integers(4, 9))
    capital = [(0, 0.2), (0.25, -0.9), (0.5, 0.3), (0.2, -0.2), (0.75, -0.1)] if rng.random() < 0.5 else [
        (0.5, -0.8), (0.05, -0.4), (0.1, 0.2), (0.6, 0.15)]  # fmt: skip
    points, x = [], 0.7
    for _ in range(letters):
        tall = float(rng.choice([0.35, 0.4, 0.9])) * rng.uniform(0.8, 1.1)
        points += [(x, 0.1), (x + 0.14, 0.1 - tall), (x + 0.22, 0.05 - tall / 2), (x + 0.16, 0.12)]
        x += rng.uniform(0.28, 0.42)
    points.append((x + rng.uniform(0.1, 0.7), rng.uniform(-0.1, 0.25)))
    made = [_curve(np.array(capital) + rng.normal(0, 0.04, (len(capital), 2))), _curve(points)]
    if rng.random() < 0.4:
        made.append(_curve([(0.2, 0.45), (x / 2, 0.4 + rng.normal(0, 0.05)), (x, 0.35)]))
    return made


def _capitals(rng: np.random.Generator) -> list[NDArray[np.float64]]:
    """Capitals set by hand, each a little its own way."""
    shapes = (
        [[(0, 1), (0.35, 0), (0.7, 1)], [(0.15, 0.6), (0.55, 0.6)]],
        [[(0, 0), (0, 1)], [(0, 0), (0.5, 0.2), (0, 0.5), (0.55, 1)]],
        [[(0.6, 0.1), (0.1, 0.3), (0.1, 0.8), (0.6, 0.95)]],
        [[(0, 1), (0, 0), (0.6, 1), (0.6, 0)]],
        [[(0, 0), (0, 1), (0.5, 1)]],
        [[(0.5, 0.1), (0.1, 0.2), (0.5, 0.7), (0.05, 0.95)]],
    )
    made, x = [], 0.0
    for n in rng.integers(0, len(shapes), int(rng.integers(4, 8))):
        lean = rng.normal(0, 0.06)
        for stroke in shapes[int(n)]:
            p = np.array(stroke, np.float64) + rng.normal(0, 0.03, (len(stroke), 2))
            p[:, 0] += x + lean * (1 - p[:, 1])
            made.append(_curve(p, 8) if len(p) > 2 else p)
        x += rng.uniform(0.72, 0.95)
    return made


def _monogram(rng: np.random.Generator) -> list[NDArray[np.float64]]:
    """Two letters, in a ring or not."""
    letters = _capitals(np.random.default_rng(int(rng.integers(1 << 30))))[:3]
    points = np.concatenate(letters)
    made = [(s - points.mean(axis=0)) / np.ptp(points, axis=0).max() for s in letters]
    if rng.random() < 0.7:
        angle = np.linspace(0, 2 * np.pi * 0.97, 40)
        made.append(np.stack([np.cos(angle), np.sin(angle)], axis=1) * 0.72)
    return made


def meets(place: Any, signed: Place) -> bool:
    """Do half of the smaller of the two lie in the other?"""
    right, bottom = place.left + place.width, place.top + place.height
    wide = min(right, signed[2]) - max(place.left, signed[0])
    high = min(bottom, signed[3]) - max(place.top, signed[1])
    areas = place.width * place.height, (signed[2] - signed[0]) * (signed[3] - signed[1])
    return max(0.0, wide) * max(0.0, high) > 0.5 * min(areas) and areas[0] < 6 * areas[1]


@dataclass(frozen=True, slots=True)
class Told:
    """What came of some pictures: signatures that were there and found, false places, pictures."""

    signed: int
    found: int
    false: int
    pictures: int


def judge(made: Sequence[Made], rules: SignatureRules) -> Told:
    """Look at pictures as the desk does."""
    found = false = 0
    for one in made:
        places = signed_places(np.ascontiguousarray(one.pixels), rules)
        hits = [one.signed is not None and meets(p, one.signed) for p in places]
        found += any(hits)
        false += hits.count(False)
    return Told(sum(m.signed is not None for m in made), found, false, len(made))


def weights(made: Sequence[Made]) -> str:
    """The weights of a logistic regression over every place that these pictures hold, as config/signature.toml has
    them."""
    from sklearn.linear_model import LogisticRegression

    rows = [(p, one) for one in made for p in written_places(np.ascontiguousarray(one.pixels))]
    names = list(rows[0][0].measures)
    x = np.array([[said(n, p.measures[n]) for n in names] for p, _ in rows])
    y = np.array([one.signed is not None and meets(p, one.signed) for p, one in rows])
    middle, spread = x.mean(axis=0), x.std(axis=0) + 1e-9
    fit = LogisticRegression(C=1.0, max_iter=2_000).fit((x - middle) / spread, y)
    slopes = fit.coef_[0] / spread
    lines = [f"before = {fit.intercept_[0] - (slopes * middle).sum():.3f}", "[weights]"]
    return "\n".join([*lines, *(f"{n} = {w:.3f}" for n, w in zip(names, slopes, strict=True))])


def main() -> None:
    """Make, look, compare; or fit."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--first", type=int, default=400_000)
    ask.add_argument("--pictures", type=int, default=80)
    ask.add_argument("--fit", action="store_true")
    options = ask.parse_args()
    made = [make(seed) for seed in range(options.first, options.first + options.pictures)]
    if options.fit:
        print(weights(made))
        return
    for view in ("art", "negative", "photograph"):
        of = [m for m in made if m.view == view]
        started = time.process_time()
        told = judge(of, SETTINGS.signature)
        spent = (time.process_time() - started) / max(1, len(of))
        print(f"{view:11} found {wilson(told.found, told.signed)}; CPU-s {spent:.2f}")
        print(f"{'':11} false places: {told.false} on {told.pictures} pictures")


if __name__ == "__main__":
    main()
