"""Measure what matching costs as an archive grows, to 50,000 scans.

    python -m tests.bench.growth --work FOLDER

Real fingerprints come from the tuning side of the pictures (made first where FOLDER lacks them, as
``tests.bench.matching`` does); the archive is drawn from them (tests/bench/drawn.py). About half an hour of CPU.
Every kept candidate is compared by each scan that asks, though the night compares a pair once: costs are upper bounds.
The fingerprint itself costs the same in any archive and is left out of the exponent.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple, dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.candidates import Postings, post
from intake.imaging.features import Features
from intake.model import PartKey
from intake.services.find import looks_at, search
from intake.services.searching import index_over
from intake.stages.match import verify
from tests.bench import grown_families
from tests.bench.archive import SIZES, made
from tests.bench.drawn import FAMILY, DrawnArchive
from tests.bench.figures import exponent, wilson
from tests.bench.pairs import Archive, described, fingerprint_rules, key_of, match_rules, number_of

SCANS = (1000, 5000, 10_000, 20_000, 50_000)
ASKED, ASKED_TO_FIND, ASKED_COLD = 500, 100, 21
FIND_AT = 10_000
RULES = match_rules()

T = TypeVar("T")

# What the workers share: set before they are forked.
_shared: dict[str, object] = {}


@dataclass(frozen=True, slots=True)
class Cost:
    """What one scan costs: CPU seconds of asking, of reading fingerprints and of comparing; and what came of it."""

    query_s: float
    load_s: float
    verify_s: float
    kept: int
    mates_kept: int
    mates_found: int
    stored_bytes: int


class Apart:
    """Keeps what the drawing of scans takes apart from what is measured."""

    def __init__(self) -> None:
        self.spent_s = 0.0

    def of(self, function: Callable[..., T], *given: object) -> T:
        started = time.process_time()
        made = function(*given)
        self.spent_s += time.process_time() - started
        return made


def main() -> None:
    """Make, measure, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--most", type=int, default=SCANS[-1])
    told = ask.parse_args()
    views, folder = made(told.work, "tune", 1, *SIZES["tune"])
    archive = described(views, folder)
    drawn = DrawnArchive([archive.features[n] for n in archive.held], seed=3)
    sizes = [n for n in SCANS if n <= told.most]
    with tempfile.TemporaryDirectory(dir=told.work) as kept:
        _grow(drawn, sizes, Path(kept))
        if FIND_AT in sizes:
            _find(archive, folder, drawn, Path(kept))
    grown_families.report(sizes)


def _grow(drawn: DrawnArchive, sizes: list[int], kept: Path) -> None:
    postings: Postings | None = None
    posting_s, totals = 0.0, []
    print("scans | posting, query, reading, comparing: CPU seconds a scan | total [95 %], hours | candidates kept")
    for size in sizes:
        before = len(postings.keys) if postings else 0
        drawing = Apart()
        started = time.process_time()
        postings = post(((key_of(n), drawing.of(drawn.made, n)) for n in range(before, size)), postings)
        posting_s += time.process_time() - started - drawing.spent_s
        postings.save(kept / str(size), [])
        costs = _ask_some(drawn, size, kept / str(size))
        of = np.array([astuple(c) for c in costs], np.float64)
        each = of[:, :3].sum(axis=1) + posting_s / size
        totals.append(each * size)
        means = of.mean(axis=0)
        half = 1.96 * each.std(ddof=1) / np.sqrt(len(each))
        print(
            f"{size:6} | {posting_s / size:.4f}, {means[0]:.3f}, {means[1]:.3f}, {means[2]:.3f} | "
            f"{each.mean():.3f} [{each.mean() - half:.3f}, {each.mean() + half:.3f}], "
            f"{each.mean() * size / 3600:.2f} | {means[3]:.1f}"
        )
        print("       mates kept as candidates", wilson(int(of[:, 4].sum()), (FAMILY - 1) * len(costs)))
        print("       mates found at p >= .5", wilson(int(of[:, 5].sum()), (FAMILY - 1) * len(costs)))
        index_bytes = sum(p.stat().st_size for p in (kept / str(size)).iterdir())
        print(
            f"       bytes a scan: index {index_bytes / size:.0f}, fingerprint {means[6]:.0f}; index opens in "
            f"{_opening(kept / str(size)):.3f} s",
            flush=True,
        )
    if len(sizes) > 2:
        print(f"total cost grows with scans to the power of {exponent(sizes, totals)}")


def _ask_some(drawn: DrawnArchive, size: int, folder: Path) -> list[Cost]:
    _shared.update(drawn=drawn, index=index_over(Postings.load(folder), RULES.candidates))
    asked = np.random.default_rng(size).choice(size, min(size, ASKED), replace=False).tolist()
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as workers:
        return list(workers.map(_ask, asked, chunksize=10))


def _ask(number: int) -> Cost:
    drawn, index = _shared["drawn"], _shared["index"]
    stored = drawn.made(number).to_bytes()
    asker = Features.from_bytes(stored)
    started = time.process_time()
    Features.from_bytes(stored)
    load_s = time.process_time() - started
    started = time.process_time()
    found = index.query(asker, RULES.candidates.top, key_of(number))
    query_s = time.process_time() - started
    others = [(c, drawn.made(number_of(c.key))) for c in found]
    started = time.process_time()
    matches = [verify(key_of(number), asker, c.key, other, [c.variant], RULES) for c, other in others]
    verify_s = time.process_time() - started
    mates = [m for c, m in zip(found, matches, strict=True) if number_of(c.key) // FAMILY == number // FAMILY]
    sure = sum(m is not None and m.probability >= 0.5 for m in mates)
    return Cost(query_s, load_s * (1 + len(found)), verify_s, len(found), len(mates), sure, len(stored))


def _opening(folder: Path) -> float:
    """Median wall seconds until an index on disk can be asked, the disk's cache warm."""
    taken = []
    for _ in range(5):
        started = time.perf_counter()
        index_over(Postings.load(folder), RULES.candidates)
        taken.append(time.perf_counter() - started)
    return float(np.median(taken))


def _find(archive: Archive, folder: Path, drawn: DrawnArchive, kept: Path) -> None:
    """Ask for pictures as ``kinfold find`` does, where the real scans lie among ten thousand drawn ones."""
    real = [(PartKey(f"r{n:05d}", 1), archive.features[n]) for n in archive.held]
    postings = post(real, Postings.load(kept / str(FIND_AT)))
    postings.save(kept / "find", [])
    asked = [n for n, view in enumerate(archive.views) if view.asked]
    asked = np.random.default_rng(1).permutation(asked)[:ASKED_TO_FIND].tolist()
    pictures = [folder / f"{archive.views[n].name}.png" for n in asked]
    _shared.update(drawn=drawn, index=index_over(Postings.load(kept / "find"), RULES.candidates), real=dict(real))
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as workers:
        answers = list(workers.map(_seek, pictures, chunksize=2))
    taken = np.array([s for s, _ in answers])
    low, high = _interval_of_median(taken)
    print(
        f"find at {len(postings.keys)} scans, index open, {len(taken)} pictures: median {np.median(taken):.2f} "
        f"[{low:.2f}, {high:.2f}], p95 {np.percentile(taken, 95):.2f}, most {taken.max():.2f} CPU seconds"
    )
    cold = [_cold(p, stored, kept) for p, (_, stored) in zip(pictures[:ASKED_COLD], answers, strict=False)]
    wall, cpu = np.array(cold[1:]).T  # the first compiles what it imports
    print(
        f"  cold, a process each, {len(wall)} pictures: median {np.median(cpu):.2f}, most {cpu.max():.2f} CPU seconds; "
        f"wall {np.median(wall):.2f}, most {wall.max():.2f}",
        flush=True,
    )


def _seek(picture: Path) -> tuple[float, dict[str, bytes]]:
    """CPU seconds of one answer, and the stored fingerprints that it read."""
    drawn, index, real = _shared["drawn"], _shared["index"], _shared["real"]
    seen = _opened(picture)
    drawing = Apart()
    stored: dict[str, bytes] = {}

    def load(key: PartKey) -> Features:
        features = real[key] if key in real else drawing.of(drawn.made, number_of(key))
        stored[key.digest] = drawing.of(features.to_bytes)
        return Features.from_bytes(stored[key.digest])

    started = time.process_time()
    looks = looks_at(seen, 1.0, fingerprint_rules(), RULES.asked)
    search(PartKey("query", 1), looks, index, load, RULES)
    return time.process_time() - started - drawing.spent_s, stored


def _cold(picture: Path, stored: dict[str, bytes], kept: Path) -> tuple[float, float]:
    """Wall and CPU seconds of one question, from nothing: a new process that imports, opens and asks."""
    with tempfile.TemporaryDirectory(dir=kept) as files:
        for name, data in stored.items():
            (Path(files) / name).write_bytes(data)
        code = "import sys; from tests.bench.growth import ask_alone; ask_alone(*sys.argv[1:])"
        command = [sys.executable, "-c", code, str(picture), str(kept / "find"), files]
        as_installed = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        started = time.perf_counter()
        said = subprocess.run(command, capture_output=True, text=True, check=True, env=as_installed).stdout
        return time.perf_counter() - started, float(json.loads(said))


def ask_alone(picture: str, index: str, files: str) -> None:
    """Ask once, and print the CPU seconds of this process so far."""
    looks = looks_at(_opened(Path(picture)), 1.0, fingerprint_rules(), RULES.asked)
    opened = index_over(Postings.load(Path(index)), RULES.candidates)
    load = Path(files)
    search(PartKey("query", 1), looks, opened, lambda k: Features.from_bytes((load / k.digest).read_bytes()), RULES)
    print(time.process_time())


def _opened(picture: Path) -> NDArray[np.uint8]:
    return np.ascontiguousarray(cv2.imread(str(picture))[..., ::-1])


def _interval_of_median(values: NDArray[np.float64]) -> tuple[float, float]:
    drawn = np.random.default_rng(0).choice(values, (2000, len(values)))
    low, high = np.percentile(np.median(drawn, axis=1), (2.5, 97.5))
    return float(low), float(high)


if __name__ == "__main__":
    began = time.time()
    main()
    print(f"{time.time() - began:.0f} s")
