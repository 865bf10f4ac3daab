"""How well the order of making is told: ``python -m tests.bench.order --first 400000 --pairs 60``.

Each pair has a true order, or none: a print and another printed from it (a screen over a screen), a print and film
shot from it, a painting and a photograph of it with a place covered or a strip pasted on, or one that shows less; and
two of which neither is known to have come first: made from one parent, or a painting by another hand beside film. Every
copy loses: it is softer, grainier, of another tone.
Cropping, covering and marks' dates come along by chance, one in ten the wrong way round, as a restorer or a re-used
block may. What is compared is told as the night does it (differ, screen, order), with the homography known. Seeds below
400000 were tuned on, those from there on are reported.
"""

import argparse
import time
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.kin import Surface
from intake.model import PartKey, Rendered, Screened
from intake.services.surfaces import surface_of
from intake.stages.differ import Side, differ
from intake.stages.order import Made, order
from intake.stages.screen import screen
from intake.stages.very_object import another_hand, of_painting, same_brushwork
from sample_batch.art.design import GENRES, Edits, paint
from tests.bench.figures import wilson
from tests.bench.screens import _printed
from tests.made import SETTINGS
from tests.ocr.pictures import page_of

CASES = (
    "printed again",
    "film of a print",
    "covered since",
    "pasted since",
    "cropped copy",
    "no order",
    "another hand",
)
NONE = CASES[5:]
HIGH, WIDE = 1500, 1080
A, B = PartKey("a", 1), PartKey("b", 1)
Light = NDArray[np.float32]
Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two pictures, what is known of each, the homography between them, and which is the earlier (None: neither)."""

    case: str
    a: Picture
    b: Picture
    a_to_b: NDArray[np.float64]
    made: dict[PartKey, Made]
    ppi: tuple[float | None, float | None]
    flip: bool
    earlier: PartKey | None


@lru_cache(maxsize=12)
def _art(number: int, hand: int = 0) -> Light:
    edits = Edits(brush=hand, board=hand)
    return paint(number, GENRES[number % len(GENRES)], WIDE, HIGH, edits).pixels.astype(np.float32) / 255


def make_pair(seed: int) -> Pair:
    """The pair of this seed; which of the two comes first by name is left to chance."""
    rng = np.random.default_rng(seed)
    case = CASES[seed % len(CASES)]
    first = _art(int(seed) // len(CASES) % 10 + (100 if seed >= 400_000 else 0))
    parent, child = first, first
    tones, kinds, flip, ppi = ["", ""], ["artwork", "artwork"], False, [None, None]
    lpi = float(rng.choice([85, 100, 120]))
    if case in ("printed again", "film of a print"):
        ppi = [lpi * float(rng.uniform(3.2, 4.5))] * 2
        parent = _printed(first, lpi, ppi[0])
        child = _copied(parent, rng)
        kinds[0] = "finished_sheet"
        if case == "printed again":
            kinds[1] = "finished_sheet"
            child = _printed(child, lpi * float(rng.choice([0.6, 0.7, 0.8, 1.25, 1.4])), ppi[0])
        else:
            kinds[1], flip = "film_negative", True
    elif case == "another hand":
        kinds[1], flip = "film_negative", True
        parent, child = _art(int(seed) // len(CASES) % 10 + (100 if seed >= 400_000 else 0), 1), _copied(first, rng)
    elif case == "no order":
        kinds = ["finished_sheet", "film_negative"]
        parent, child, flip = _copied(first, rng), _copied(first, rng), True
    else:
        kinds[1] = str(rng.choice(["film_negative", "photographic_proof"]))
        flip = kinds[1] == "film_negative"
        child = _copied(first, rng)
    edited = {"covered since": "covered", "pasted since": "pasted"}.get(case, "")
    if not edited and rng.random() < 0.3:
        edited = str(rng.choice(["covered", "pasted"]))
    if edited:
        contrary = case not in ("covered since", "pasted since") and rng.random() < 0.1
        if case in NONE:
            contrary = bool(rng.random() < 0.5)
        if contrary:
            parent = _edit(parent, edited, rng)
        else:
            child = _edit(child, edited, rng)
    if flip:
        child = 1 - child**0.8
    shots = [_scan(parent, rng), _scan(child, rng)]
    crop = np.eye(3)
    if case == "cropped copy" or rng.random() < 0.2:
        shots[1], crop = _cropped(shots[1], rng)
    dates: list[tuple[int | None, int | None]] = [(None, None), (None, None)]
    if rng.random() < 0.25 and case not in NONE:
        year = int(rng.integers(1935, 1975))
        dates = [(None, year), (year + int(rng.integers(2, 20)), None)]
    made = [
        Made("one", k, t, since, since is not None, until)
        for k, t, (since, until) in zip(kinds, tones, dates, strict=True)
    ]
    earlier: PartKey | None = None if case in NONE else A
    pair = Pair(case, shots[0], shots[1], crop, dict(zip((A, B), made, strict=True)), (ppi[0], ppi[1]), flip, earlier)
    return _turned(pair) if rng.random() < 0.5 else pair


def _turned(p: Pair) -> Pair:
    made = {A: p.made[B], B: p.made[A]}
    earlier = None if p.earlier is None else B
    back = np.asarray(np.linalg.inv(p.a_to_b), np.float64)
    return replace(p, a=p.b, b=p.a, a_to_b=back, made=made, ppi=(p.ppi[1], p.ppi[0]), earlier=earlier)


def _copied(light: Light, rng: np.random.Generator) -> Light:
    """One generation on: softer, of another tone, with grain."""
    seen = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.5, 1.1)))
    grain = cv2.GaussianBlur(rng.normal(0, 1, light.shape[:2]).astype(np.float32), (0, 0), 0.8)
    toned = np.clip(seen, 0, 1) ** float(rng.uniform(0.75, 1.4)) + float(rng.uniform(0.008, 0.02)) * grain[..., None]
    return np.clip(toned, 0, 1).astype(np.float32)


def _edit(light: Light, kind: str, rng: np.random.Generator) -> Light:
    """A place painted out in the tone around it, or a strip of paper with a line on it."""
    made = light.copy()
    if kind == "covered":
        h, w = int(HIGH * rng.uniform(0.05, 0.12)), int(WIDE * rng.uniform(0.1, 0.25))
        y, x = int(rng.uniform(0.1, 0.9) * (HIGH - h)), int(rng.uniform(0.1, 0.9) * (WIDE - w))
        tone = made[y : y + h, x : x + w].reshape(-1, 3).mean(axis=0)
        made[y : y + h, x : x + w] = tone + rng.normal(0, 0.01, (h, w, 1)).astype(np.float32)
        return np.clip(made, 0, 1)
    h, w = int(HIGH * rng.uniform(0.04, 0.08)), int(WIDE * rng.uniform(0.4, 0.8))
    y, x = int(rng.uniform(0.3, 0.95) * (HIGH - h)), int(rng.uniform(0.1, 0.9) * (WIDE - w))
    strip = np.full((h, w, 3), 232, np.uint8)
    cv2.putText(strip, "GANTRY HALL THIS WEEK", (12, int(h * 0.7)), cv2.FONT_HERSHEY_DUPLEX, h / 55, (28, 26, 30), 3)
    made[y : y + h, x : x + w] = strip.astype(np.float32) / 255
    return made


def _scan(light: Light, rng: np.random.Generator) -> Picture:
    seen = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.3, 0.6)))
    seen = np.clip(seen * float(rng.uniform(0.9, 1)) + rng.normal(0, 0.008, seen.shape), 0, 1)
    packed = cv2.imencode(".jpg", (seen * 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(85, 96))])[
        1
    ]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR)


def _cropped(picture: Picture, rng: np.random.Generator) -> tuple[Picture, NDArray[np.float64]]:
    h, w = picture.shape[:2]
    left, right = (int(w * rng.uniform(0.03, 0.1)) for _ in range(2))
    top, bottom = (int(h * rng.uniform(0.03, 0.1)) for _ in range(2))
    matrix = np.array([[1, 0, -left], [0, 1, -top], [0, 0, 1.0]])
    return np.ascontiguousarray(picture[top : h - bottom, left : w - right]), matrix


def told(pair: Pair) -> tuple[PartKey | None, tuple[str, ...]]:
    """Which is said to be the earlier (None: unsure), and the names of the reasons."""
    report = differ(Side(A, pair.a), Side(B, pair.b), pair.a_to_b, SETTINGS.differ, polarity_flip=pair.flip)
    made = {}
    for (key, m), picture, ppi in zip(sorted(pair.made.items()), (pair.a, pair.b), pair.ppi, strict=True):
        screened = _screened(picture, m.kind, ppi)
        made[key] = replace(m, tone=screened.tone, screens=screened.screens) if screened else m
    surface = _surface(pair)
    same = surface is not None and same_brushwork(surface, SETTINGS.very_object)
    apart = surface is not None and another_hand(surface, SETTINGS.very_object)
    painting, picture = (A, B) if pair.made[A].kind == "artwork" else (B, A)
    found = order(made, [] if apart else [report], SETTINGS.order, [(painting, picture)] if same else [])
    if not found:
        return None, ()
    names = tuple(e.name for e in found[0].reasons) + tuple(f"but {e.name}" for e in found[0].contrary)
    return (found[0].earlier if found[0].sure else None), names


def _surface(pair: Pair) -> Surface | None:
    """The brushwork of a painting laid on its picture."""
    if not of_painting(pair.made[A].kind, pair.made[B].kind):
        return None
    sides = Side(A, pair.a), Side(B, pair.b)
    onto = pair.a_to_b
    if pair.made[A].kind != "artwork":
        sides, onto = sides[::-1], np.asarray(np.linalg.inv(onto), np.float64)
    return surface_of(*sides, onto, SETTINGS.differ, SETTINGS.very_object, polarity_flip=pair.flip)


def _screened(picture: Picture, kind: str, ppi: float | None) -> Screened | None:
    if ppi is None or kind in ("artwork", "photographic_proof"):
        return None
    page = page_of(picture)
    return screen(page, Rendered(page.box, *picture.shape[1::-1], 1.0), kind, ppi, SETTINGS.screen)


def main() -> None:
    """Make, look, compare."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--first", type=int, default=400_000)
    ask.add_argument("--pairs", type=int, default=60)
    ask.add_argument("--each", action="store_true", help="say every pair that is not right")
    options = ask.parse_args()
    said: Counter[tuple[str, str]] = Counter()
    spent = 0.0
    for seed in range(options.first, options.first + options.pairs):
        pair = make_pair(seed)
        started = time.process_time()
        earlier, names = told(pair)
        spent += time.process_time() - started
        what = "unsure" if earlier is None else "right" if earlier == pair.earlier else "wrong"
        said[pair.case, what] += 1
        if options.each and (what == "wrong" or (what == "unsure") == (pair.earlier is not None)):
            print(seed, pair.case, what, ", ".join(names))
    for case in CASES:
        print(f"{case:16}", {w: said[case, w] for w in ("right", "wrong", "unsure") if said[case, w]})
    right = sum(n for (c, w), n in said.items() if w == "right")
    wrong = sum(n for (c, w), n in said.items() if w == "wrong")
    ordered = sum(n for (c, _), n in said.items() if c not in NONE)
    print("of what is said, right:", wilson(right, right + wrong))
    print("of pairs with an order, said:", wilson(right + sum(said[c, "wrong"] for c in CASES[:5]), ordered))
    print(f"CPU seconds a pair: {spent / options.pairs:.2f}")


if __name__ == "__main__":
    main()
