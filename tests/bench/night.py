"""A night's cost on files of the sizes that come: scans an hour, CPU seconds by stage, memory, and 10,000 scans.

    python -m tests.bench.night --work FOLDER --scans 300 --seed 5

The mix: of ten scans seven JPEG of 25 MP, two TIFF of 24 MP (8 bits), one TIFF of 115 MP (16 bits), painted anew and
enlarged with fresh noise. Beside it, over some of the same files in the same run, a plain script that chains imagehash
and pytesseract (both to be installed beside: ``pip install imagehash``). 300 scans take some 30 GB of disk meanwhile.
"""

import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from threading import Event, Thread

import numpy as np

from intake.config.load import load_config
from intake.services.home import Home
from intake.services.stamps import stamps_of
from intake.store import differences, ledger, pairs, scans
from pipelines.night import READING
from tests.pipelines.havoc import command_of, descendants

ROOT = Path(__file__).resolve().parents[2]
MIX = ("jpeg25", "jpeg25", "tiff24", "jpeg25", "jpeg25", "jpeg25", "tiff24", "jpeg25", "jpeg25", "tiff115")
MEGAPIXELS = {"jpeg25": 25, "tiff24": 24, "tiff115": 115}
SHARE = {name: MIX.count(name) / len(MIX) for name in MEGAPIXELS}
NIGHT = 10_000
_PLAIN_LIMIT_S = 180
_TICK = os.sysconf("SC_CLK_TCK")


def main() -> None:
    """Paint, run, measure, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--scans", type=int, default=300)
    ask.add_argument("--seed", type=int, default=5)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--plain", type=int, default=20, help="how many of the files the plain script is given")
    told = ask.parse_args()
    told.work.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=told.work) as name:
        place = Path(name)
        sizes = _paint(place, told.scans, told.seed)
        counted = ", ".join(f"{n} {list(sizes.values()).count(n)}" for n in MEGAPIXELS)
        held = sum(p.stat().st_size for p in (place / "scans").rglob("*.*")) / 1e9
        print(f"{len(sizes)} files, {held:.1f} GB: {counted}", flush=True)
        taking = _watched(place, "receive", str(place / "scans"), "--consignment", "NIGHT")
        night = _watched(place, "run", "--workers", str(told.workers))
        _report(place, sizes, taking, night)
        _plain(place, sizes, told.plain)


class Watch:
    """What a command and all below it spend and hold, looked at every so often. CPU by sort of process."""

    def __init__(self, pid: int, every_s: float = 0.25) -> None:
        self.cpu_s: dict[int, float] = {}
        self.sort: dict[int, str] = {}
        self.most_mb: dict[str, float] = defaultdict(float)
        self._pid, self._every_s, self._stop = pid, every_s, Event()
        self._thread = Thread(target=self._watch, daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Look no more."""
        self._stop.set()
        self._thread.join()

    def spent(self, sort: str) -> float:
        """CPU seconds of all processes of one sort, the readers that workers waited for included."""
        return sum(s for pid, s in self.cpu_s.items() if self.sort[pid] == sort)

    def _watch(self) -> None:
        while not self._stop.wait(self._every_s):
            held: dict[str, list[float]] = defaultdict(list)
            for pid in [self._pid, *descendants(self._pid)]:
                try:
                    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
                    pss = Path(f"/proc/{pid}/smaps_rollup").read_text().split("Pss:")[1].split()[0]
                except (OSError, IndexError):
                    continue
                if pid not in self.sort:
                    self.sort[pid] = self._sort_of(pid)
                if self.sort[pid] != "reader":  # counted by the worker that waits for it; all others by themselves
                    waited_for = 15 if self.sort[pid] == "worker" else 13
                    self.cpu_s[pid] = sum(map(int, fields[11:waited_for])) / _TICK
                held[self.sort[pid]].append(int(pss) / 1e3)
            for sort, each in held.items():
                self.most_mb[f"one {sort}"] = max(self.most_mb[f"one {sort}"], *each)
            self.most_mb["all"] = max(self.most_mb["all"], sum(map(sum, held.values())))

    def _sort_of(self, pid: int) -> str:
        words = command_of(pid)
        if b"spawn_main" in words:
            return "worker"
        if b"tesseract" in words:
            return "reader"
        return "engine's server" if b"prefect.server" in words else "parent"


def _watched(place: Path, *words: str) -> tuple[Watch, float]:
    command = [sys.executable, "-m", "pipelines.command", "--home", str(place / "home"), *words]
    began = time.monotonic()
    run = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, env=os.environ | {"PYTHONPATH": str(ROOT)})
    watch = Watch(run.pid)
    code = run.wait()
    watch.end()
    if code:
        raise SystemExit(f"kinfold {words[0]} ended with {code}")
    return watch, time.monotonic() - began


def _paint(place: Path, number: int, seed: int) -> dict[str, str]:
    """Paint so many scans and write each in its size; returns path below scans/ -> size."""
    small = place / "small"
    painted = [
        sys.executable,
        "-m",
        "sample_batch.paint",
        "--to",
        str(small),
        "--scans",
        str(number),
        "--seed",
        str(seed),
    ]
    subprocess.run(painted, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    files = sorted(p for p in (small / "scans").rglob("*") if p.is_file())
    work, made = [], {}
    for path, size in zip(files, itertools.cycle(MIX), strict=False):
        below = path.relative_to(small / "scans").with_suffix(".jpg" if size.startswith("jpeg") else ".tif")
        made[below.as_posix()] = size
        work.append((path, place / "scans" / below, size))
    with ProcessPoolExecutor(2, get_context("spawn")) as workers:
        list(workers.map(_enlarge, work))
    return made


def _enlarge(task: tuple[Path, Path, str]) -> None:
    from intake.imaging.libvips import pyvips

    source, to, size = task
    to.parent.mkdir(parents=True, exist_ok=True)
    image = pyvips.Image.new_from_file(str(source), access="sequential").colourspace("srgb")
    image = (image.extract_band(0, n=3) if image.bands > 3 else image).cast("uchar", shift=True)
    factor = (MEGAPIXELS[size] * 1e6 / (image.width * image.height)) ** 0.5
    large = image.resize(factor, kernel="cubic")
    noise = pyvips.Image.gaussnoise(large.width, large.height, sigma=2.0, mean=0, seed=1)
    large = large + noise
    resolution = {"xres": image.xres * factor, "yres": image.yres * factor}
    if size == "tiff115":
        (large * 257).cast("ushort").copy(interpretation="rgb16", **resolution).tiffsave(str(to), compression="lzw")
    elif size == "tiff24":
        large.cast("uchar").copy(interpretation="srgb", **resolution).tiffsave(str(to))
    else:
        large.cast("uchar").copy(interpretation="srgb", **resolution).jpegsave(str(to), Q=88)


def _report(place: Path, sizes: dict[str, str], taking: tuple[Watch, float], night: tuple[Watch, float]) -> None:
    stamps = stamps_of(load_config(ROOT / "config"))
    home = Home(place / "home")
    with home.database.read() as connection:
        of = {s.digest: sizes[s.path] for s in scans.all_scans(connection)}
        have = ledger.results_of(connection, list(of), stamps.stages)
        compared, matching_s = pairs.pair_costs(connection, stamps.match)
        told, differing_s = differences.difference_costs(connection)
    home.database.close()
    costs: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for digest, results in have.items():
        for group, reads in (("looking", False), ("reading", True)):
            spent = sum(r.cpu_s for w, r in results.items() if (w.stage in READING) == reads)
            costs[group][of[digest]].append(spent)
    watch, wall_s = night
    n = len(of)
    mixed = {g: sum(SHARE[s] * float(np.mean(of_size[s])) for s in SHARE if of_size[s]) for g, of_size in costs.items()}
    stage_s = sum(sum(map(sum, of_size.values())) for of_size in costs.values())
    mixed["matching"] = matching_s / n
    mixed["differences"] = differing_s / n
    server_s = watch.spent("engine's server")
    took_s = sum(taking[0].cpu_s.values()) / n
    rest_s = watch.spent("worker") + watch.spent("parent") - stage_s - matching_s - differing_s
    mixed["overhead"] = rest_s / n + took_s
    print("CPU seconds a scan, weighted to the mix (by size: " + ", ".join(SHARE) + ")")
    for group, of_size in costs.items():
        each = ", ".join(f"{np.mean(of_size[s]):.2f}" if of_size[s] else "-" for s in SHARE)
        print(f"  {group:<10} {mixed[group]:.2f}   ({each})")
    print(f"  matching   {mixed['matching']:.2f}   ({compared:,} pairs; grows with the archive: tests.bench.growth)")
    print(f"  differences {mixed['differences']:.2f}  ({told:,} reports)")
    print(f"  overhead   {mixed['overhead']:.2f}   (receiving {took_s:.2f}, starting up and looking up included)")
    print(f"  engine's server: {server_s:.1f} CPU-s in all, {server_s / n:.3f} a scan here")
    total = sum(mixed.values())
    print(f"  in all     {total:.2f} -> {NIGHT:,} scans on 2 cores: {total * NIGHT / 2 / 3600:.1f} h")
    print(f"{n / wall_s * 3600:.0f} scans an hour, {wall_s:.0f} s wall with two workers on this machine as it was")
    print("most memory, MB (PSS): " + ", ".join(f"{k} {v:.0f}" for k, v in sorted(watch.most_mb.items())), flush=True)


def _plain(place: Path, sizes: dict[str, str], number: int) -> None:
    """The plain script over an even choice of the files, in a process of its own."""
    if not number:
        return
    step = max(1, len(sizes) // number)
    chosen = [p for n, p in enumerate(sorted(sizes)) if n % step == 0][:number]
    code = "import sys; from tests.bench.night import plain_script; plain_script(sys.argv[1:])"
    paths = [str(place / "scans" / p) for p in chosen]
    done = subprocess.run(
        [sys.executable, "-c", code, *paths], cwd=ROOT, capture_output=True, text=True, check=False,
        env=os.environ | {"OMP_THREAD_LIMIT": "1"},
    )  # fmt: skip
    if done.returncode:
        print(f"the plain script ended with {done.returncode}: {done.stderr[-300:]}")
        return
    told = json.loads(done.stdout)
    each: dict[str, list[float]] = defaultdict(list)
    for path, spent in zip(chosen, told["cpu_s"], strict=True):
        each[sizes[path]].append(spent)
    mixed = sum(SHARE[s] * float(np.mean(each[s])) for s in each)
    by_size = ", ".join(f"{s} {np.mean(v):.2f}" for s, v in each.items())
    print(
        f"plain script (imagehash.phash, pytesseract on the page) over {len(chosen)} of them: {mixed:.2f} CPU-s a "
        f"scan ({by_size}) -> {mixed * NIGHT / 2 / 3600:.1f} h; {told['timeouts']} over {_PLAIN_LIMIT_S} s"
    )


def plain_script(paths: list[str]) -> None:
    """What a competent user would type: a hash and a page of text of each file. Prints CPU seconds as JSON."""
    import imagehash
    import pytesseract
    from PIL import Image

    from intake.setup import find_tesseract

    found = find_tesseract()
    assert found
    pytesseract.pytesseract.tesseract_cmd = str(found.program)
    Image.MAX_IMAGE_PIXELS = None
    spent, timeouts = [], 0
    for path in paths:
        before = _cpu_s()
        with Image.open(path) as image:
            picture = image.convert("RGB")
        imagehash.phash(picture)
        try:
            pytesseract.image_to_string(picture, config=f'--tessdata-dir "{found.data_folder}"', timeout=_PLAIN_LIMIT_S)
        except RuntimeError:
            timeouts += 1
        spent.append(_cpu_s() - before)
    print(json.dumps({"cpu_s": spent, "timeouts": timeouts}))


def _cpu_s() -> float:
    return sum(os.times()[:4])


if __name__ == "__main__":
    main()
