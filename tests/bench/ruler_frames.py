"""Frames for the ruler bench: a sheet on a bed with a ruler beside it or on it, without one, and with things like one.

Rulers are drawn anew for each frame: body, graduations on one edge or both, lengths and widths of ticks, figures, place
and turn. Like a ruler are perforations, dashes, rows of equal ticks, a row whose every fourth is longer, keys.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from sample_batch import story
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.make import painted
from sample_batch.page import Page, Pixels, blank, lay
from sample_batch.press import ink_on_paper
from sample_batch.scanner import BEDS, Setting, scan
from sample_batch.sheet import print_sheet
from sample_batch.typeset import print_line
from tests.bench.fold_sheets import _planned

# graduation -> millimetres from tick to tick, every how manyth is longer
ROWS = {
    "millimetres": (1.0, (10, 5)),
    "half millimetres": (0.5, (20, 10, 2)),
    "eighths of an inch": (3.175, (8, 4, 2)),
    "sixteenths of an inch": (1.5875, (16, 8, 4, 2)),
}
LIKE = ("perforations", "dashes", "equal", "fourths", "keys")
BODIES = ((0.93, 0.92, 0.88), (0.62, 0.62, 0.63), (0.80, 0.66, 0.42), (0.12, 0.12, 0.13), (0.55, 0.70, 0.62))
_FINER = 4
# larger sheets only take longer to paint
_MOST_MM = 720


@dataclass(frozen=True, slots=True)
class Frame:
    """One scan and its truth: ``ruler`` is its edge's graduation ("" without one), ``like`` what else is in it."""

    path: Path
    px_per_mm: float
    ruler: str
    like: str
    width_mm: float
    height_mm: float
    words: str


def frames(count: int, seed: int, folder: Path) -> Iterator[Frame]:
    """Three frames of each of ``count`` sheets: with a ruler, without one, with something like one."""
    folder.mkdir(parents=True, exist_ok=True)
    batch = crowd(count * 5, seed)
    pieces = [p for p in batch.pieces if isinstance(p.recipe, story.Printed)][:count]
    for number, piece in enumerate(pieces):
        rng = np.random.default_rng([seed, 37, number])
        plan = _planned(piece.recipe.plan, rng)  # type: ignore[union-attr]
        while max(plan.width_mm, plan.height_mm) > _MOST_MM:
            plan = _planned(plan, rng)
        ppi = float(rng.uniform(74, 130))
        design = batch.design(piece.design)
        page = print_sheet(plan, painted(design.seed, design.genre, design.aspect, piece.edits), ppi)
        page = ink_on_paper(page, number + 1, 120.0, 1.0 if rng.random() < 0.2 else 0.0)
        size = page.size_mm
        for sort in ("ruler", "none", "like"):
            thing, name, words = None, "", ""
            if sort == "ruler":
                thing, name, words = draw_ruler(rng, ppi)
            elif sort == "like":
                name = LIKE[int(rng.integers(len(LIKE)))]
                thing = draw_like(name, rng, ppi)
            made, where = _laid(page, thing, rng)
            path = folder / f"{seed}-{number:03d}-{sort}.jpg"
            setting = Setting(
                "grey", 0.0, 0.0, int(rng.choice([0, 90, 180, 270])), blur_mm=float(rng.choice([0, 0, 0.08])),
                noise=float(rng.uniform(0.002, 0.007)), seed=number,
            )  # fmt: skip
            scanned = scan([made], setting)
            write_scan(path, scanned.pixels, ppi, Delivery(quality=int(rng.integers(70, 92)), tagged_ppi=False))
            yield Frame(
                path, ppi / 25.4, name if sort == "ruler" else "", name if sort == "like" else "", *size,
                f"{where} {words} {ppi:.0f} ppi",
            )  # fmt: skip


def _laid(page: Page, thing: Page | None, rng: np.random.Generator) -> tuple[Page, str]:
    """The sheet on a bed, with the thing beside it, against it or on it, along either side."""
    name = str(rng.choice(["grey", "black", "white"]))
    wide, high = page.size_mm
    edge = 12.0
    long_mm, broad_mm = thing.size_mm if thing else (0.0, 30.0)
    upright = bool(rng.random() < 0.5)
    where = str(rng.choice(["beside", "beside", "against", "on"]))
    gap = {"beside": 12.0, "against": 0.0, "on": -min(0.06 * min(wide, high), broad_mm / 2)}[where]
    room = gap + broad_mm + edge
    bed_wide = max(wide + 2 * edge + (room if upright else 0), 0 if upright else long_mm + 2 * edge)
    bed_high = max(high + 2 * edge + (0 if upright else room), long_mm + 2 * edge if upright else 0)
    bed = blank(bed_wide, bed_high, page.ppi, BEDS[name])
    shadow = 0.45 if name != "black" else 0.0
    bed = lay(bed, page, edge, edge, float(rng.normal(0, 0.4)), shadow)
    if thing is None:
        return bed, name
    turned = thing
    if upright:
        turned = replace(thing, pixels=np.ascontiguousarray(np.rot90(thing.pixels, int(rng.choice([1, 3])))))
    elif rng.random() < 0.5:
        turned = replace(thing, pixels=np.ascontiguousarray(np.rot90(thing.pixels, 2)))
    room_along = (bed_high if upright else bed_wide) - 2 * edge - long_mm
    along = edge + float(rng.uniform(0, max(room_along, 0.0)))
    x, y = (edge + wide + gap, along) if upright else (along, edge + high + gap)
    return lay(bed, turned, x, y, float(rng.normal(0, 0.7)), shadow), f"{name} {where}"


def draw_ruler(rng: np.random.Generator, ppi: float) -> tuple[Page, str, str]:
    """A ruler with its longer side along x: page, the graduation of its upper edge, words."""
    names = list(ROWS)
    upper = names[int(rng.choice(4, p=(0.55, 0.15, 0.1, 0.2)))]
    lower = names[int(rng.integers(4))] if rng.random() < 0.5 else ""
    long_mm, broad_mm = float(rng.choice([150, 200, 300, 300, 450])), float(rng.uniform(18, 36))
    body = BODIES[int(rng.integers(len(BODIES)))]
    ink = (0.93, 0.93, 0.92) if sum(body) < 1 else tuple(float(v) for v in rng.uniform(0.05, 0.25) + np.zeros(3))
    page = blank(long_mm + 12, broad_mm, ppi * _FINER, body)
    _rows(page, upper, rng, ink, long_mm, under=False)
    if lower:
        _rows(page, lower, rng, ink, long_mm, under=True)
    return _shrunk(page, ppi), upper, f"{upper}/{lower or 'plain'} {long_mm:.0f} mm"


def _rows(page: Page, name: str, rng: np.random.Generator, ink: object, long_mm: float, *, under: bool) -> None:
    step, steps = ROWS[name]
    scale = page.px_per_mm
    plain = float(rng.uniform(2.2, 3.6))
    more = float(rng.uniform(0.9, 1.6)) if len(steps) < 4 else float(rng.uniform(0.7, 1.1))
    thick = max(1, round(float(rng.uniform(0.12, 0.24)) * scale))
    gap = float(rng.choice([0, 0, 0.5])) * scale
    high = page.pixels.shape[0]
    major = steps[0]
    for n in range(int(long_mm / step) + 1):
        rank = next((len(steps) - i for i, s in enumerate(steps) if n % s == 0), 0)
        x = round((6 + n * step) * scale - thick / 2)
        reach = round((plain + rank * more) * scale)
        top, bottom = (high - round(gap) - reach, high - round(gap)) if under else (round(gap), round(gap) + reach)
        page.pixels[top:bottom, x : x + thick] = ink
        if n % major == 0 and n:
            at = (plain + len(steps) * more + 4.2) if not under else page.size_mm[1] - plain - len(steps) * more - 1.5
            print_line(page, str(n // major), 2.4, "grotesque", 6 + n * step, at, anchor="centre", colour=ink)  # type: ignore[arg-type]


def draw_like(name: str, rng: np.random.Generator, ppi: float) -> Page:
    """Something regular that is no ruler, on a strip of paper."""
    long_mm, broad_mm = float(rng.uniform(150, 350)), float(rng.uniform(20, 34))
    page = blank(long_mm, broad_mm, ppi * _FINER, (0.9, 0.89, 0.85) if name != "perforations" else (0.1, 0.1, 0.1))
    scale = page.px_per_mm
    step = float(rng.uniform(0.9, 4.9))

    def bar(x: float, y: float, wide: float, high: float, value: float) -> None:
        x0, y0 = round(x * scale), round(y * scale)
        page.pixels[y0 : y0 + max(1, round(high * scale)), x0 : x0 + max(1, round(wide * scale))] = value

    for n in range(int((long_mm - 8) / step)):
        x = 4 + n * step
        if name == "perforations":
            bar(x, 2, 0.45 * step, 0.6 * step, 0.95)
        elif name == "dashes":
            bar(x, 8, 0.6 * step, 0.5, 0.1)
        elif name == "equal":
            bar(x, 0, 0.2, 4, 0.1)
        elif name == "fourths":
            bar(x, 0, 0.2, 6 if n % 4 == 0 else 3, 0.1)
        else:
            bar(x, 0, 0.15, 16, 0.1)
            if n % 7 in (0, 1, 3, 4, 5):
                bar(x + 0.7 * step, 0, 0.6 * step, 9, 0.1)
    return _shrunk(page, ppi)


def _shrunk(page: Page, ppi: float) -> Page:
    high, wide = page.pixels.shape[:2]
    pixels: Pixels = cv2.resize(page.pixels, (round(wide / _FINER), round(high / _FINER)), interpolation=cv2.INTER_AREA)
    return Page(pixels.astype(np.float32), ppi)
