"""Measure what is told of printing screens, on paintings of our own printed through screens of known ruling and angle.

    python -m tests.bench.screens [--seed 7] [--pictures 120]

A third of the pictures are printed once in four inks (65 to 175 lines an inch, 2.7 to 5 pixels a line, askew or not,
one in five scanned as grey), a third are copied from such a print and printed again, a third are not printed at all.
"""

import argparse
import time
from collections import Counter

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.screen import ScreenRules
from intake.model import Rendered, Screened
from intake.stages.screen import screen
from sample_batch.art.design import GENRES, paint
from sample_batch.page import Page, blank
from sample_batch.press import ANGLES, screened
from tests.bench.figures import wilson
from tests.made import CONFIG, section
from tests.ocr.pictures import page_of

RULES = section(ScreenRules, CONFIG / "screen.toml")
RULINGS = (65.0, 85.0, 100.0, 120.0, 133.0, 150.0, 175.0)
TONES = ("screened", "rescreened", "continuous")
Light = NDArray[np.float32]


def main() -> None:
    """Print, scan, look, compare."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--pictures", type=int, default=120)
    told = ask.parse_args()
    rng = np.random.default_rng(told.seed)
    art = [
        paint(int(rng.integers(1e6)), GENRES[n % len(GENRES)], 1700, 1300).pixels.astype(np.float32) / 255
        for n in range(8)
    ]
    tones: Counter[tuple[str, str]] = Counter()
    rulings: list[bool] = []
    angles: list[bool] = []
    spent = 0.0
    for number in range(told.pictures):
        tone = TONES[number % 3]
        lpi = float(rng.choice(RULINGS))
        ppi = lpi * float(rng.uniform(2.7, 5)) if tone != "continuous" else float(rng.choice([300, 450, 600]))
        askew = float(rng.uniform(-1.5, 1.5)) if rng.random() < 0.5 else 0.0
        picture = _scan(_turned(_made(tone, art[int(rng.integers(8))], lpi, ppi, rng), askew), rng)
        started = time.process_time()
        got = _look(picture, ppi)
        spent += time.process_time() - started
        could_show = ppi / RULES.pixels_a_line >= RULES.finest_lpi
        want = tone if tone != "continuous" or could_show else ""
        tones[want, got.tone] += 1
        if tone == "screened" and got.lpi:
            rulings.append(abs(got.lpi / lpi - 1) < 0.01)
            angles += [_off(s.angle_deg, askew) < 1.0 for s in got.screens]
    for want in (*TONES, ""):
        of = sum(n for (w, _), n in tones.items() if w == want)
        others = {said or "not told": n for (w, said), n in tones.items() if w == want != said}
        print(f"{want or 'too coarse to tell'}: {wilson(tones[want, want], of)}", others or "")
    print("ruling within 1 % (one screen):", wilson(sum(rulings), len(rulings)))
    print("angles within 1 degree of one of the four:", wilson(sum(angles), len(angles)))
    print(f"CPU seconds a picture: {spent / told.pictures:.3f}")


def _made(tone: str, art: Light, lpi: float, ppi: float, rng: np.random.Generator) -> Light:
    if tone == "continuous":
        return art
    if tone == "rescreened":
        first = lpi * float(rng.choice([0.6, 0.7, 0.8, 1.25, 1.4]))
        art = _printed(art, first, ppi)
        art = np.clip(cv2.GaussianBlur(art, (0, 0), ppi / first * float(rng.uniform(0.15, 0.3))), 0, 1)
    return _printed(art, lpi, ppi)


def _printed(light: Light, lpi: float, ppi: float) -> Light:
    page = blank(1, 1, ppi, (1, 1, 1))
    return screened(Page(light, ppi, page.marks, page.art, page.elements, page.added), lpi)


def _turned(light: Light, degrees: float) -> Light:
    high, wide = light.shape[:2]
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), degrees, 1)
    return cv2.warpAffine(light, matrix, (wide, high), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)


def _scan(light: Light, rng: np.random.Generator) -> NDArray[np.uint8]:
    if rng.random() < 0.2:
        light = np.repeat(light.mean(axis=2, keepdims=True), 3, axis=2)
    seen = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.4, 0.9)))
    seen = np.clip(seen + rng.normal(0, rng.uniform(0.005, 0.03), seen.shape), 0, 1)
    picture = (seen * 255).astype(np.uint8)
    quality = int(rng.choice([0, 95, 85, 75]))
    if quality:
        picture = cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_COLOR)
    return np.ascontiguousarray(picture)


def _look(picture: NDArray[np.uint8], ppi: float) -> Screened:
    page = page_of(picture)
    return screen(page, Rendered(page.box, *picture.shape[1::-1], 1.0), "finished_sheet", ppi, RULES)


def _off(angle: float, askew: float) -> float:
    """Degrees from the nearest of the four angles; the painter counts them clockwise."""
    away = [abs(angle + own - askew) % 90 for own in ANGLES]
    return min(min(a, 90 - a) for a in away)


if __name__ == "__main__":
    main()
