"""The pictures that the networks learn on: paintings of our own painter, seeds that no archive of the bench uses.

Half of the tuning side's package pictures join them; the other half is left for fitting tables on (see ``is_taught``).
"""

import hashlib
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_batch.art.design import GENRES, Edits, Painting, elements, paint

SIDE_PX = 384
FIRST_SEED = 60_000
VERSIONS = 3
MOST_EDITED = 6
PAGES = 60


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """``pixels`` (n, VERSIONS, SIDE_PX, SIDE_PX, 3) uint8, stretched to a square; ``aspect`` (n,) width over height;
    ``edited`` (n, VERSIONS, MOST_EDITED, 4) shares left, top, right, bottom where a version differs from the first;
    ``genre`` (n,) is one number for designs of one composition, which are taken for each other most easily."""

    pixels: NDArray[np.uint8]
    aspect: NDArray[np.float32]
    edited: NDArray[np.float32]
    genre: NDArray[np.int64]


def is_taught(tile: str) -> bool:
    """Does this package picture of the tuning side (its name in the pool) belong to those that are learnt on?"""
    return hashlib.sha256(tile.split("-")[1].encode()).digest()[1] % 2 == 0


def versions_of(seed: int, genre: str, aspect: float) -> list[Edits]:
    """The design, and versions with elements scaled, moved and redrawn, another brush, mostly another palette."""
    rng = np.random.default_rng(seed)
    names = [n for n in elements(seed, genre, aspect) if n not in ("sky", "land", "signature", "rain", "sea")]
    made = [Edits()]
    for version in range(1, VERSIONS):
        chosen = [str(n) for n in rng.permutation(names)]
        made.append(
            Edits(
                scale=((chosen[0], float(rng.uniform(0.8, 1.35))),),
                move=((chosen[1 % len(chosen)], float(rng.uniform(-0.06, 0.06)), float(rng.uniform(-0.04, 0.04))),),
                redraw=(chosen[2 % len(chosen)],),
                palette=version if rng.random() < 0.7 else 0,
                brush=version,
            )
        )
    return made


def _paint(seed: int, folder: Path) -> None:
    path = folder / f"{seed}.npz"
    if path.exists():
        return
    genre = GENRES[seed % len(GENRES)]
    aspect = (0.68, 0.72, 0.78, 1.0, 1.35)[seed // len(GENRES) % 5]
    size = (round(SIDE_PX * aspect), SIDE_PX) if aspect <= 1 else (SIDE_PX, round(SIDE_PX / aspect))
    versions = versions_of(seed, genre, aspect)
    painted = [paint(seed, genre, *size, edits) for edits in versions]
    square = [cv2.resize(p.pixels, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_CUBIC) for p in painted]
    edited = np.stack([_edited(painted[0], p, e) for p, e in zip(painted, versions, strict=True)])
    webp = [cv2.imencode(".webp", s[..., ::-1], [cv2.IMWRITE_WEBP_QUALITY, 85])[1] for s in square]
    np.savez(path, aspect=np.float32(aspect), edited=edited, **{f"v{n}": w for n, w in enumerate(webp)})


def _edited(first: Painting, other: Painting, edits: Edits) -> NDArray[np.float32]:
    names = [e[0] for e in (*edits.scale, *edits.move)] + list(edits.redraw)
    boxes = [p.boxes[n] for n in names for p in (first, other) if n in p.boxes]
    rows = np.zeros((MOST_EDITED, 4), np.float32)
    if boxes:
        rows[: len(boxes)] = boxes[:MOST_EDITED]
    return rows


def load(folder: Path, designs: int, tiles: list[Path], processes: int) -> Pool:
    """Paint what ``folder`` lacks, and read all; tiles have one version only."""
    folder.mkdir(parents=True, exist_ok=True)
    seeds = range(FIRST_SEED, FIRST_SEED + designs)
    with ProcessPoolExecutor(processes) as workers:
        list(workers.map(partial(_paint, folder=folder), seeds, chunksize=2))
    pixels, aspect, edited, genre = [], [], [], []
    for seed in seeds:
        genre.append(seed % len(GENRES))
        with np.load(folder / f"{seed}.npz") as kept:
            pixels.append(np.stack([cv2.imdecode(kept[f"v{n}"], 1)[..., ::-1] for n in range(VERSIONS)]))
            aspect.append(float(kept["aspect"]))
            edited.append(kept["edited"])
    others = [(len(GENRES), cv2.imread(str(path))[..., ::-1]) for path in tiles]
    others += [(len(GENRES) + 1 + n % 2, _page(np.random.default_rng(n), stamped=n % 2 == 1)) for n in range(PAGES)]
    for kind, picture in others:
        square = cv2.resize(picture, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA)
        pixels.append(np.repeat(square[None], VERSIONS, axis=0))
        aspect.append(picture.shape[1] / picture.shape[0])
        edited.append(np.zeros((VERSIONS, MOST_EDITED, 4), np.float32))
        genre.append(kind)
    return Pool(np.stack(pixels), np.array(aspect, np.float32), np.stack(edited).astype(np.float32), np.array(genre))


def _page(rng: np.random.Generator, *, stamped: bool) -> NDArray[np.uint8]:
    """A page of type, or the back of a sheet with a stamp: one looks like the next, and is another."""
    page = np.full((720, 520, 3), rng.integers(200, 250, 3), np.uint8)
    if stamped:
        at = tuple(int(v) for v in rng.integers(150, 380, 2))
        turn = int(rng.integers(0, 180))
        cv2.ellipse(page, at, (int(rng.integers(60, 120)), int(rng.integers(30, 70))), turn, 0, 360, (70, 40, 120), 3)
        cv2.putText(page, "".join(rng.choice(list("ABCDEGKLMNORST"), 7)), (at[0] - 60, at[1]), 3, 0.6, (70, 40, 120), 2)
        return page
    for row in range(int(rng.integers(14, 34))):
        words = ["".join(rng.choice(list("abcdeghiklmnorstuv"), int(rng.integers(2, 9)))) for _ in range(7)]
        line = " ".join(words)[: int(rng.integers(20, 48))]
        cv2.putText(page, line, (50, 60 + row * 19), int(rng.integers(0, 2)), 0.42, (40, 40, 46), 1, cv2.LINE_AA)
    return page
