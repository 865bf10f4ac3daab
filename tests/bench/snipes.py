"""How well strips pasted on a sheet are told without a second picture: ``python -m tests.bench.snipes --first N
--sheets N``.

Sheets of our own painter's paintings with margins and printed panels, some of them framed by a rule or slanted, laid a
little askew on a bed; half of them bear a strip of paper pasted on, with a shadow at two edges, mostly a little askew
to the sheet. Prints how many strips are found and how many places are false.
``--fit`` prints the weights for config/snipe.toml. Seeds from 610000 on were tuned on, seeds 600000 to
609999 are reported.
"""

import argparse
import time

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from intake.config.load import load_config
from intake.imaging.snipes import candidates, find_snipes
from sample_batch.art.design import GENRES, paint
from tests.bench.differences import fit
from tests.made import CONFIG

Picture = NDArray[np.uint8]
Box = tuple[float, float, float, float]
PAPERS = ((238, 232, 214), (240, 238, 232), (236, 205, 60), (226, 150, 90), (200, 222, 200), (36, 36, 40))
WORDS = ("GANTRY HALL  FRIDAY", "THIS WEEK ONLY", "HELD OVER", "VESPER PICTURES PRESENT", "IN GLORIOUS COLOUR")


def sheet(seed: int) -> tuple[Picture, Box | None]:
    """One sheet and where a strip is pasted on it (left, top, right, bottom), None where none is."""
    rng = np.random.default_rng(seed)
    art = paint(seed, GENRES[seed % len(GENRES)], 700, 1000).pixels
    rim = int(rng.uniform(20, 60))
    paper = np.array([rng.uniform(228, 245), rng.uniform(225, 240), rng.uniform(205, 232)])
    page = np.empty((1000 + 2 * rim, 700 + 2 * rim, 3), np.float32)
    page[:] = paper
    page[rim:-rim, rim:-rim] = art
    for _ in range(int(rng.integers(0, 3))):  # printed panels: of the paper or of an ink
        _print_panel(page, paper, art, rim, rng)
    box = _paste(page, rng) if seed % 2 else None
    page, box = _on_bed(page, box, rng)
    page = page * rng.uniform(0.85, 1.0) + rng.uniform(0, 12)
    noisy = page + cv2.GaussianBlur(rng.normal(0, 1, page.shape[:2]).astype(np.float32), (0, 0), 0.6)[..., None] * 4
    soft = cv2.GaussianBlur(noisy, (0, 0), float(rng.uniform(0.3, 0.8)))
    packed = cv2.imencode(".jpg", np.clip(soft, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 88])[1]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR), box


def _print_panel(
    page: NDArray[np.float32], paper: NDArray[np.float64], art: Picture, rim: int, rng: np.random.Generator
) -> None:
    h, w = page.shape[:2]
    high, wide = int(rng.uniform(40, 110)), int(rng.uniform(260, 700))
    y, x = int(rng.uniform(rim, h - rim - high)), int(rng.uniform(rim, w - rim - wide))
    ground = paper if rng.random() < 0.6 else art[int(rng.integers(1000)), int(rng.integers(700))]
    panel = np.empty((high, wide, 3), np.float32)
    panel[:] = ground
    panel = _lettered(panel + rng.normal(0, rng.uniform(0, 2.5), (high, wide, 1)), rng)
    if rng.random() < 0.25:  # a printed rule around it
        thick, ink = int(rng.integers(1, 4)), (24, 22, 26) if np.mean(ground) > 110 else (236, 230, 214)
        cv2.rectangle(panel, (0, 0), (wide - 1, high - 1), ink, thick)
    slant = float(rng.uniform(3, 7) * rng.choice([-1, 1])) if rng.random() < 0.12 else 0.0
    laid, cover, _ = _laid(panel, (x, y), slant, (w, h))
    page[:] = page * (1 - cover[..., None]) + laid * cover[..., None]


def _laid(
    piece: NDArray[np.float32], at: tuple[float, float], turn: float, size: tuple[int, int]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float64]]:
    """A piece on an empty page of ``size``, what it covers, and what leads from its pixels to the page's."""
    high, wide = piece.shape[:2]
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), turn, 1.0)
    matrix[:, 2] += at
    laid = cv2.warpAffine(piece, matrix, size, flags=cv2.INTER_LINEAR)
    cover = cv2.warpAffine(np.ones((high, wide), np.float32), matrix, size, flags=cv2.INTER_LINEAR)
    return laid, cover, matrix


def _on_bed(
    page: NDArray[np.float32], box: Box | None, rng: np.random.Generator
) -> tuple[NDArray[np.float32], Box | None]:
    """The sheet as it comes off a bed: bent by up to 0.08 % of its height (0.14 degrees), trimmed a little askew to its
    print, laid up to 0.8 degrees askew, with a little of the bed around it."""
    h, w = page.shape[:2]
    rim = int(rng.uniform(4, 24))
    lie, trim = float(rng.uniform(-0.8, 0.8)), float(rng.normal(0, 0.12))
    matrix, cut = (cv2.getRotationMatrix2D((w / 2, h / 2), turn, 1.0) for turn in (lie, lie + trim))
    matrix[:, 2] += rim
    cut[:, 2] += rim
    bed = (float(rng.choice([16, 90, 250])),) * 3
    most, turns = float(rng.uniform(0, 0.0008)) * h, rng.uniform(0, 6.28, 2)
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    at_x, at_y = x + most * np.sin(y * (3.0 / h) + turns[0]), y + most * np.sin(x * (3.0 / w) + turns[1])
    bent = cv2.remap(
        page, at_x.astype(np.float32), at_y.astype(np.float32), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    size = (w + 2 * rim, h + 2 * rim)
    laid = cv2.warpAffine(bent, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    paper = cv2.warpAffine(np.ones((h, w), np.float32), cut, size, flags=cv2.INTER_LINEAR)[..., None]
    return laid * paper + (1 - paper) * np.float32(bed), box and _around(box, matrix)


def _around(box: Box, matrix: NDArray[np.float64]) -> Box:
    left, top, right, bottom = box
    corners = np.array([[left, top, 1], [right, top, 1], [right, bottom, 1], [left, bottom, 1]]) @ matrix.T
    return (*(float(v) for v in corners.min(axis=0)), *(float(v) for v in corners.max(axis=0)))  # type: ignore[return-value]


def _lettered(ground: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    image = Image.fromarray(np.clip(ground, 0, 255).astype(np.uint8))
    font = ImageFont.truetype("sample_batch/fonts/oswald-latin-700-normal.woff", int(ground.shape[0] * 0.45))
    ink = (20, 20, 24) if ground.mean() > 110 else (240, 236, 220)
    at = (ground.shape[1] * 0.06, ground.shape[0] * 0.2)
    ImageDraw.Draw(image).text(at, str(rng.choice(WORDS)), font=font, fill=ink)
    return np.array(image, np.float32)


def _paste(page: NDArray[np.float32], rng: np.random.Generator) -> Box:
    h, w = page.shape[:2]
    high, wide = int(rng.uniform(0.03, 0.09) * h), int(rng.uniform(0.3, 0.8) * w)
    strip = np.empty((high, wide, 3), np.float32)
    strip[:] = PAPERS[int(rng.integers(len(PAPERS)))]
    strip = _lettered(strip + rng.normal(0, rng.uniform(0, 2.5), (high, wide, 1)), rng)
    x, y = rng.uniform(0.05 * w, 0.95 * w - wide), rng.uniform(0.1 * h, 0.9 * h - high)
    laid, cover, matrix = _laid(strip, (x, y), float(rng.normal(0, 0.7)), (w, h))
    reach = float(rng.uniform(1.0, 3.0))
    shadow = cv2.GaussianBlur(
        np.roll(cover, (round(reach), round(reach * rng.choice([-1, 1]))), (0, 1)), (0, 0), reach * 0.6
    )
    page *= (1 - float(rng.uniform(0.2, 0.5)) * shadow * (1 - cover))[..., None]
    page[:] = page * (1 - cover[..., None]) + laid * cover[..., None]
    return _around((0, 0, wide, high), matrix)


def _share(box: tuple[float, float, float, float], there: Box) -> float:
    wide = min(box[0] + box[2], there[2]) - max(box[0], there[0])
    high = min(box[1] + box[3], there[3]) - max(box[1], there[1])
    both = max(0.0, wide) * max(0.0, high)
    return both / (box[2] * box[3] + (there[2] - there[0]) * (there[3] - there[1]) - both)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=600_000)
    parser.add_argument("--sheets", type=int, default=60)
    parser.add_argument("--fit", action="store_true")
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    rules = load_config(CONFIG).snipe
    found = false = strips = 0
    samples, true = [], []
    spent = 0.0
    for seed in range(asked.first, asked.first + asked.sheets):
        page, box = sheet(seed)
        if asked.fit:
            for corners, measured in candidates(page, rules):
                (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
                samples.append([measured[name] for name in rules.weights])
                true.append(box is not None and _share((left, top, right - left, bottom - top), box) > 0.4)
        started = time.process_time()
        told = find_snipes(page, rules)
        spent += time.process_time() - started
        strips += box is not None
        hits = [box is not None and _share(s.box, box) > 0.4 for s in told]
        found += any(hits)
        false += len(hits) - sum(hits)
    if asked.fit:
        weights = fit(np.array(samples), np.array(true))
        print("candidates", len(true), "true", sum(true))
        print(
            "start", round(float(weights[0]), 2), dict(zip(rules.weights, weights[1:].round(2).tolist(), strict=True))
        )
    print(
        f"strips found {found} of {strips}; false places {false} on {asked.sheets} sheets; "
        f"{spent / asked.sheets:.2f} CPU-s a sheet"
    )


if __name__ == "__main__":
    main()
