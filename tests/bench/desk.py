"""What looking costs: tiles from the pyramid of a scan of 115 MP, plain and laid over another; families in a browser.

``python -m tests.bench.desk --work DIR`` makes two scans, B a copy of A that lies askew, and asks the desk for their
tiles as a viewer would; ``--home HOME`` (one that a run was done on) opens its families in Chromium, one after the
other. The server has one core and all that asks has another, where there are two.
"""

import argparse
import hashlib
import http.client
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.load import load_config
from intake.imaging.encode import jpeg_bytes
from intake.imaging.libvips import pyvips
from intake.model import Box, PartFound, PartKey, Rendered
from intake.services.home import Home, write_whole
from intake.services.relate import regroup
from intake.store import pairs, scans
from tests.made import AT, CONFIG, STAMPS, Written, checked, classified, match, received

HOST = "127.0.0.1"
WIDE, HIGH = 9_600, 12_000
WORKING_PX = 2048
TILE = 512
SEED = 7


def main() -> None:
    """Read the words of the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("--home", type=Path, help="a home that a run was done on: its families are opened in a browser")
    parser.add_argument("--tiles", type=int, default=300)
    options = parser.parse_args()
    options.work.mkdir(parents=True, exist_ok=True)
    tiles(options.work, options.tiles)
    if options.home:
        families(options.home)


# ---- tiles ----------------------------------------------------------------------------------------------------------


def tiles(work: Path, many: int) -> None:
    """Make the two scans, their pyramids, and ask for tiles."""
    home, a, b = made(work)
    with served(home) as (port, server):
        for key in (a, b):
            started = time.perf_counter()
            answer = fetch(port, f"/sharp/{key.digest}-1")
            print(f"pyramid of {WIDE * HIGH / 1e6:.0f} MP: {time.perf_counter() - started:.1f} s  {answer[1][:60]!r}")
        print(f"server: {peak_mb(server):.0f} MB at most, {anonymous_mb(server):.0f} MB of it its own now")
        asked = random.Random(SEED)
        for words, base in (
            ("as scanned", f"/iiif/{a.digest}-1"),
            ("turned by 90 and mirrored", f"/iiif/{a.digest}-1~90m"),
            ("B laid over A", f"/iiif/{b.digest}-1~0~on~{a.digest}-1"),
        ):
            wide, high = (HIGH, WIDE) if "~90" in base else (WIDE, HIGH)
            addresses = [f"{base}/{tile(asked, wide, high)}" for _ in range(many)]
            took = sorted(timed(port, address) for address in addresses)
            print(f"{words}: {many} tiles, p50 {np.percentile(took, 50):.1f} ms, p95 {np.percentile(took, 95):.1f} ms")
        size = sum(p.stat().st_size for p in (work / "home/pyramids").iterdir()) / 2**20
        print(f"the two pyramids take {size:.0f} MB")


def made(work: Path) -> tuple[Path, PartKey, PartKey]:
    """A home with A, B and the match that joins them; the scans lie beside it."""
    for name in ("home", "in"):
        shutil.rmtree(work / name, ignore_errors=True)
    (work / "in").mkdir()
    picture = painted()
    lie = np.array([[0.92, -0.03, 310.0], [0.028, 0.93, 420.0], [1e-7, -2e-7, 1.0]])
    askew = cv2.warpPerspective(picture, lie, (WIDE, HIGH), borderValue=(40, 40, 40))
    home = Home(work / "home")
    written = Written(home)
    files = [store(work / "in", name, pixels) for name, pixels in (("a.tif", picture), ("b.tif", askew))]
    with home.database.write() as connection:
        scans.put_consignment(connection, "C", str((work / "in").resolve()), AT, False)
        scans.add_scans(connection, [(f, 1) for f in files], AT)
    written.run()
    box = Box(0, 0, WIDE, HIGH)
    check = replace(checked(), width_px=WIDE, height_px=HIGH, parts=(PartFound(1, 0, box),))
    factor = WORKING_PX / HIGH
    for file, pixels in zip(files, (picture, askew), strict=True):
        working = np.asarray(cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA), np.uint8)
        height, width = working.shape[:2]
        written.looked(file, (Rendered(box, width, height, 1 / factor), classified("finished_sheet")), check=check)
        key = PartKey(file.digest, 1)
        for name, longest in (("working", None), ("thumb", 360)):
            write_whole(home.picture(key, name, STAMPS.stages["render"]), jpeg_bytes(working, longest))
    a, b = (PartKey(f.digest, 1) for f in files)
    forward = lie if a < b else np.linalg.inv(lie)
    found = match(a, b, transform=tuple(float(v) for v in forward.ravel()))
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((found.a, found.b), 1, found, 0.01)])
    regroup(home, load_config(CONFIG), STAMPS)
    home.database.close()
    return work / "home", a, b


def painted() -> NDArray[np.uint8]:
    """(HIGH, WIDE, 3): shapes under a print screen and grain, so that tiles weigh what those of a sheet do."""
    drawn = np.random.default_rng(SEED)
    small = np.full((HIGH // 8, WIDE // 8, 3), 200, np.uint8)
    for _ in range(400):
        corners = drawn.integers(0, (WIDE // 8, HIGH // 8), (3, 2)).astype(np.int32)
        cv2.fillPoly(small, [corners.reshape(-1, 1, 2)], tuple(int(v) for v in drawn.integers(0, 255, 3)))
    picture = cv2.resize(small, (WIDE, HIGH), interpolation=cv2.INTER_CUBIC)
    y, x = np.ogrid[:1000, :WIDE]
    for top in range(0, HIGH, 1000):
        screen = 14 * np.sin((x + y + top) * 0.9) * np.sin((x - y - top) * 0.9) + drawn.normal(0, 3, (1000, WIDE))
        rows = picture[top : top + 1000]
        rows[:] = np.clip(rows + screen[..., None], 0, 255)
    return np.asarray(picture, np.uint8)


def store(folder: Path, name: str, pixels: NDArray[np.uint8]):  # type: ignore[no-untyped-def]
    """The scan as an uncompressed TIFF, and what was received."""
    path = folder / name
    pyvips.Image.new_from_array(pixels).tiffsave(str(path), compression="none")
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return replace(received(f"B01/{name}", digest=digest), path=name)


def tile(asked: random.Random, wide: int, high: int) -> str:
    """One tile that a viewer asks for, at any layer that the pyramid is needed for."""
    step = TILE << asked.randrange(3)
    x, y = asked.randrange(wide // step + 1) * step, asked.randrange(high // step + 1) * step
    w, h = min(step, wide - x), min(step, high - y)
    if w < 1 or h < 1:
        return tile(asked, wide, high)
    factor = step // TILE
    return f"{x},{y},{w},{h}/{-(-w // factor)},{-(-h // factor)}/0/default.jpg"


# ---- families in a browser ------------------------------------------------------------------------------------------


def families(home: Path) -> None:
    """Open the first family of the queue, then rule on one after the other by key, in a copy of the home."""
    from playwright.sync_api import sync_playwright

    from tests.web.browsing import CHROMIUM, FLAGS

    # From the moment that the page is asked for until both panes have drawn a tile. A ruling may lay the next family
    # into the same document, so its moment is kept by the clock, and what was drawn before it is forgotten.
    drawn = "() => performance.getEntriesByName('drawn')[1]?.startTime"
    pressed = """addEventListener('keydown', () => {
        sessionStorage.setItem('pressed', String(performance.timeOrigin + performance.now()));
        performance.clearMarks('drawn');
    }, true)"""
    since = """(here) => {
        const drawn = location.href !== here && performance.getEntriesByName('drawn')[1];
        return drawn && performance.timeOrigin + drawn.startTime - Number(sessionStorage.getItem('pressed'));
    }"""
    with (
        tempfile.TemporaryDirectory() as profile,
        tempfile.TemporaryDirectory() as beside,
        served(Path(shutil.copytree(home, Path(beside) / "home"))) as (port, _),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch_persistent_context(
            profile, executable_path=CHROMIUM, args=FLAGS, viewport={"width": 1280, "height": 800}
        )
        page = browser.new_page()
        page.add_init_script(pressed)
        page.goto(f"http://{HOST}:{port}/families")
        page.locator(".entry h2 a").first.click()
        first = float(page.wait_for_function(drawn).json_value())
        page.locator("#sit").fill("BENCH")
        page.locator("#sit").press("Enter")
        page.locator("#rulings").wait_for()
        after = []
        while page.locator("a[data-next]").count() and page.locator("button[value=confirm]").count():
            page.locator("#table[data-ready]").wait_for()
            page.wait_for_timeout(1_500)  # a person looks; what comes next is fetched
            here = page.url
            page.keyboard.press("t")
            after.append(float(page.wait_for_function(since, arg=here).json_value()))
        browser.close()
    took = sorted(after)
    print(f"first family: both pictures drawn after {first:.0f} ms")
    middle, worst = np.percentile(took, 50), max(took, default=0)
    print(f"next family after a ruling, {len(took)} times: p50 {middle:.0f} ms, worst {worst:.0f} ms")


# ---- the server -----------------------------------------------------------------------------------------------------


@contextmanager
def served(home: Path) -> Iterator[tuple[int, int]]:
    """The desk in a process of its own: its port and process id."""
    cores = sorted(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else []
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        port = taken.getsockname()[1]
    words = [sys.executable, "-m", "pipelines.command", "--home", str(home), "desk", "--port", str(port)]
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    try:
        if len(cores) > 1:
            os.sched_setaffinity(process.pid, cores[:1])
            os.sched_setaffinity(0, cores[1:2])
        while True:
            try:
                fetch(port, "/keys")
                break
            except OSError:
                time.sleep(0.1)
        yield port, process.pid
    finally:
        process.terminate()
        process.wait()
        if cores:
            os.sched_setaffinity(0, cores)


def fetch(port: int, address: str) -> tuple[int, bytes]:
    """Status and body."""
    connection = http.client.HTTPConnection(HOST, port, timeout=300)
    connection.request("GET", address)
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    return answer.status, body


def timed(port: int, address: str) -> float:
    """Milliseconds until a tile is here."""
    started = time.perf_counter()
    status, body = fetch(port, address)
    if status != 200:
        raise SystemExit(f"{address}: {status} {body[:200]!r}")
    return 1000 * (time.perf_counter() - started)


def peak_mb(process: int) -> float:
    """Resident memory at its highest, mapped files among it."""
    return _status(process, "VmHWM")


def anonymous_mb(process: int) -> float:
    """Memory that no file stands behind."""
    return _status(process, "RssAnon")


def _status(process: int, name: str) -> float:
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith(f"{name}:"):
            return int(line.split()[1]) / 1024
    return float("nan")


if __name__ == "__main__":
    main()
