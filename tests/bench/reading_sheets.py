"""Whole sheets for the reading bench: painted, titled and printed by the sample batch's press."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_batch.art.design import GENRES, paint
from sample_batch.certificate import Certificate, Shape
from sample_batch.codes import it_vm, uk_certificate, us_rating
from sample_batch.film import negative_density, see_through
from sample_batch.layouts import BORDERS, SIZES, Campaign, lay_out
from sample_batch.light import to_linear
from sample_batch.page import MM_PER_INCH, Mark, Page
from sample_batch.press import ink_on_paper
from sample_batch.scanner import Setting, scan
from sample_batch.sheet import SheetPlan, SmallLine, Title, print_sheet
from sample_batch.typeset import set_line
from tests.bench.reading_faces import Faces
from tests.bench.reading_lines import SIDE_SEED
from tests.bench.reading_words import FIELDS, Told, Words, certificate, edge_print, printer, title

Picture = NDArray[np.uint8]
LANDS = ("US", "UK", "FR", "IT", "ES", "DE", "AU")
FORMATS = ("us_wc", "uk_crown", "us_insert", "fr_petite_real", "it_loc", "au_daybill", "uk_dcrown", "de_a1")
LONG_PX = (3000, 3800)
# Capitals in pixels of the scan; a degraded scan is half as large, so that its are not below 8.
CAP_PX = {False: (10.0, 18.0), True: (16.0, 24.0)}
ENLARGED = 3
NEUTRAL = (0.12, 0.12, 0.12)
CONDITIONS = ("clean", "degraded", "clean", "degraded", "clean", "degraded", "negative", "large")
WAYS = tuple((turn, mirrored) for mirrored in (False, True) for turn in (0, 90, 180, 270))
PLACES = ("bottom-left", "bottom-right", "bottom-left/1", "bottom-right/1", "bottom-centre/1")
SIDES = ("left-side", "right-side", "art-right", "top-right")


@dataclass(frozen=True, slots=True)
class SheetScan:
    """A file to read, how it lies, and its true small lines with their boxes in stored pixels."""

    path: Path
    condition: str
    kind: str
    polarity: str
    rotation: int
    mirrored: bool
    ppi: float
    marks: tuple[Mark, ...]


def sheet_scan(number: int, side: str, seed: int, faces: Faces, folder: Path) -> SheetScan:
    """Print sheet ``number`` of a seed and write its scan to ``folder``. Conditions and the eight ways go round."""
    condition = CONDITIONS[number % len(CONDITIONS)]
    rotation, mirrored = WAYS[(number * 3 + number // len(CONDITIONS)) % len(WAYS)]
    rng = np.random.default_rng([seed, SIDE_SEED[side], 7, number])
    page = printed(Words(side, rng), faces, condition, SIDE_SEED[side] + 5000 + seed * 1000 + number)
    setting = Setting("black", margin_mm=0.0, rotation=rotation, mirrored=mirrored, seed=number)
    seen = scan([page], setting).parts[0].page
    pixels = np.clip(seen.pixels * 255 + 0.5, 0, 255).astype(np.uint8)
    grow, ending, packing = 1.0, "png", [cv2.IMWRITE_PNG_COMPRESSION, 1]
    if condition == "degraded":
        pixels = _degraded(pixels)
        grow, ending, packing = 0.5, "jpg", [cv2.IMWRITE_JPEG_QUALITY, 35]
    elif condition == "negative":
        grey = cv2.cvtColor(seen.pixels, cv2.COLOR_RGB2GRAY)[..., None]
        shown = see_through(negative_density(np.repeat(to_linear(grey), 3, axis=2), NEUTRAL))
        pixels = np.clip(shown * 255 + 0.5, 0, 255).astype(np.uint8)
    elif condition == "large":
        pixels = cv2.resize(pixels, None, fx=ENLARGED, fy=ENLARGED, interpolation=cv2.INTER_CUBIC)
        grow = float(ENLARGED)
    path = folder / f"{side}-{seed}-{number:04d}.{ending}"
    cv2.imwrite(str(path), pixels[..., ::-1], packing)
    marks = tuple(replace(m, box=tuple(v * grow for v in m.box)) for m in seen.marks)
    negative = condition == "negative"
    kind = "film_negative" if negative else "finished_sheet"
    polarity = "negative" if negative else "positive"
    return SheetScan(path, condition, kind, polarity, rotation, mirrored, page.ppi * grow, marks)


def _degraded(pixels: Picture) -> Picture:
    """Half the size, half the contrast and unsharp; the file is a poor JPEG."""
    small = cv2.resize(pixels, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA).astype(np.float32)
    return np.clip(cv2.GaussianBlur(small * 0.5 + 70, (0, 0), 0.7), 0, 255).astype(np.uint8)


def upright(scan: SheetScan, pixels: Picture) -> Picture:
    """The picture set upright, and a negative as a positive: what a person would hand to a reader."""
    turned = np.rot90(pixels[:, ::-1] if scan.mirrored else pixels, -(scan.rotation // 90))
    return np.ascontiguousarray(255 - turned if scan.polarity == "negative" else turned)


def printed(w: Words, faces: Faces, condition: str, paint_seed: int) -> Page:
    """One sheet as it left the press."""
    plan, px_per_mm = planned(w, faces, condition)
    high = round(1000 * plan.height_mm / plan.width_mm)
    painting = paint(paint_seed, GENRES[paint_seed % len(GENRES)], 1000, high)
    return ink_on_paper(print_sheet(plan, painting, px_per_mm * MM_PER_INCH), paint_seed)


def planned(w: Words, faces: Faces, condition: str) -> tuple[SheetPlan, float]:
    """What is printed where, and at how many pixels a millimetre it is looked at."""
    size = w.pick(FORMATS)
    land = w.pick(LANDS)
    px_per_mm = w.number(*LONG_PX) / max(SIZES[size])
    caps_mm = [float(w.rng.uniform(*CAP_PX[condition == "degraded"])) / px_per_mm for _ in range(16)]
    told = _small_print(w, land)
    if condition == "negative":
        told = [*told[:-1], edge_print(w)]
    lines = tuple(_laid(told, size, caps_mm, faces, w))
    campaign = Campaign("", _title(w, faces), _billing(w), "")
    plan = lay_out(size, campaign, lines, _certificate(w, land), certificate_at="left", frame=w.chance(0.3))
    return plan, px_per_mm


def _small_print(w: Words, land: str) -> list[Told]:
    """Six to nine lines: what a printer of ``land`` puts there first, and others that go anywhere."""
    first = [FIELDS["release code"](w)] if land == "US" else []
    if land in ("UK", "FR", "DE", "AU"):
        first = [printer(w, land)]
    if land in ("FR", "DE"):
        first.append(certificate(w, land))
    more = ("release code", "copyright", "permit", "date", "union", "copyright", "permit", "roman year")
    order = [more[i] for i in w.rng.permutation(len(more))]
    return first + [FIELDS[f](w) for f in order[: w.number(5, 9)]]


def _laid(told: Sequence[Told], size: str, caps_mm: Sequence[float], faces: Faces, w: Words) -> list[SmallLine]:
    """Give each line a place; a place where it would run into its neighbours is left empty."""
    width_mm, foot_mm = SIZES[size][0], BORDERS[size][3]
    used: dict[str, list[float]] = {"0": [], "1": []}
    rows = "0" if min(foot_mm * 0.34, caps_mm[0] * 1.9) + caps_mm[0] * 2.8 > foot_mm else "01"
    laid: list[SmallLine] = []
    places = [*PLACES, *SIDES]
    for line, own_cap in zip(told, caps_mm, strict=False):
        face = w.pick(faces.small_for(line.text))
        while places:
            place = places.pop(0)
            name, _, row = place.partition("/")
            # The lower border is set in one size, so that its rows stay apart.
            cap = caps_mm[0] if name.startswith("bottom") else own_cap
            wide = set_line(line.text, 20.0, face).shape[1] / 20.0 * cap
            if name.startswith("bottom"):
                row = row or "0"
                # What stands in the middle of a row comes last, and needs room on both sides.
                need = wide + 2 * max(used[row], default=0.0) if name == "bottom-centre" else wide + sum(used[row])
                fits = row in rows and need < width_mm * 0.9 - 2 * BORDERS[size][0]
                used[row] += [wide] if fits else []
            else:
                fits = wide <= width_mm * 0.5
            if fits:
                light = place == "art-right"
                laid.append(SmallLine(line.text, line.kind or "text", line.value, place, cap, face, light))
                break
    return laid


def _title(w: Words, faces: Faces) -> Title:
    one, two = title(w).text, w.name().upper()
    return Title((two, one), face=w.pick(faces.display), fill=(240, 225, 180), arch=0.1 if w.chance(0.3) else 0.0)


def _billing(w: Words) -> tuple[str, ...]:
    def person() -> str:
        return f"{w.name()} {w.name()}".upper()

    return (
        f"~A {w.name().upper()} ~PRODUCTION {person()} {person()}",
        f"{person()} ~IN {title(w).text}",
        f"~DIRECTED ~BY {person()} ~MUSIC {person()} ~WRITTEN ~BY {person()}",
    )


def _certificate(w: Words, land: str) -> Certificate | None:
    """A symbol beside the billing block; other countries' are lines of words."""
    if land == "UK":
        shapes: tuple[Shape, ...] = ("circle", "triangle", "box")
        return uk_certificate(w.pick(("U", "A", "AA", "X", "PG", "15", "18")), shapes[w.number(0, 3)])
    if land == "US":
        return us_rating(w.pick(("G", "M", "GP", "PG", "R", "X")))
    return it_vm(int(w.pick(("14", "16", "18")))) if land == "IT" else None
