"""What a press does: ink on paper, a screen where it can be seen, proofs with their untrimmed margins, single inks."""

from dataclasses import replace

import cv2
import numpy as np

from sample_batch.light import LUMA, cloud, grain, seeded
from sample_batch.page import Page, Pixels, blank, lay
from sample_batch.typeset import BLACK, made_mark, print_line

INKS = {"CYAN": 0, "MAGENTA": 1, "YELLOW": 2, "BLACK": 3}
INK_RGB = np.float32([[0.0, 0.62, 0.86], [0.86, 0.05, 0.48], [0.98, 0.88, 0.05], [0.1, 0.1, 0.1]])
ANGLES = (15.0, 75.0, 0.0, 45.0)
PROOF_MARGINS = (22.0, 22.0, 22.0, 34.0)
SEPARATION_MARGIN = 20.0


def ink_on_paper(page: Page, seed: int, lpi: float = 120.0, gloss: float = 0.0) -> Page:
    """Return ``page`` as printed: screened where ``lpi`` can be resolved, else with the mottle a screen leaves."""
    rng = seeded(seed, "press")
    pixels = page.pixels
    if page.ppi >= 2.4 * lpi:
        pixels = screened(page, lpi)
    h, w = pixels.shape[:2]
    mottle = cloud(rng, (h, w), 5 * page.px_per_mm) * 0.006 + grain(rng, (h, w), 0.7) * 0.007 * (1 - gloss)
    out = cv2.GaussianBlur(pixels, (0, 0), 0.05 * page.px_per_mm + 0.25)
    ink = 1 - out @ LUMA
    out = out + (mottle * (0.35 + ink))[..., None]
    return replace(page, pixels=np.clip(out, 0, 1).astype(np.float32))


def to_inks(pixels: Pixels) -> Pixels:
    """Return coverages (h, w, 4) of cyan, magenta, yellow and black for sRGB ``pixels``, with grey carried by black."""
    cmy = 1 - pixels
    black = np.clip(cmy.min(axis=2, keepdims=True) * 1.15 - 0.25, 0, 1)
    colour = np.clip((cmy - black) / np.maximum(1 - black, 1e-3), 0, 1)
    return np.concatenate([colour, black], axis=2).astype(np.float32)


def from_inks(inks: Pixels) -> Pixels:
    """Return sRGB of four ink coverages by multiplying what each lets through."""
    out = np.ones((*inks.shape[:2], 3), np.float32)
    for number in range(4):
        out *= 1 - inks[..., number : number + 1] * (1 - INK_RGB[number])
    return out


def screened(page: Page, lpi: float) -> Pixels:
    """Return the pixels of ``page`` printed through a round-dot screen of ``lpi`` lines to the inch."""
    inks = to_inks(page.pixels)
    h, w = inks.shape[:2]
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    pitch = page.ppi / lpi
    for number, angle in enumerate(ANGLES):
        a = np.deg2rad(angle)
        u, v = (x * np.cos(a) + y * np.sin(a)) / pitch, (y * np.cos(a) - x * np.sin(a)) / pitch
        spot = 0.5 + 0.25 * (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v))
        inks[..., number] = np.clip((inks[..., number] - spot) * pitch * 0.9 + 0.5, 0, 1)
    return from_inks(inks) * np.float32([0.965, 0.955, 0.92])


def proof(page: Page, seed: int, notes: tuple[str, ...], job: str, printer: str, ppi: float) -> Page:
    """Return ``page`` as a printer's proof: untrimmed paper, crop and register marks, colour bars, slug and pencil.

    ``job`` is a line such as ``Job No. 4471``; ``notes`` are written by hand at the foot.
    """
    wide, high = page.size_mm
    margin, _, _, foot = PROOF_MARGINS
    ground = blank(wide + 2 * margin, high + margin + foot, ppi, (0.975, 0.97, 0.95))
    ground = lay(ground, page, margin, margin)
    scale = ground.px_per_mm
    _crop_marks(ground, margin, margin, wide, high)
    for x, y in ((margin + wide / 2, 9.0), (9.0, margin + high / 2), (wide + 2 * margin - 9, margin + high / 2)):
        register_mark(ground.pixels, x * scale, y * scale, 5.5 * scale)
    _colour_bar(ground, margin + wide * 0.52, margin + high + 9.5, min(8.0, wide * 0.028))
    marks = list(ground.marks)
    cap = 3.2
    y = margin + high + 13
    box = print_line(ground, job, cap, "grotesque", margin + 8, y)
    marks.append(made_mark("job", job, job.split()[-1], box, cap))
    if printer:
        print_line(ground, printer, 2.6, "grotesque", margin + 8, y + 8)
    rng = seeded(seed, "proof")
    x = margin + wide * 0.3
    for note in notes:
        print_line(ground, note, 5.0, "script", x, y + 7 + rng.uniform(-2, 2), colour=(0.32, 0.32, 0.36), strength=0.8)
        x += wide * 0.24
    return replace(ground, marks=tuple(marks))


def separation(page: Page, ink: str, seed: int, job: str, ppi: float) -> Page:
    """Return one ink of ``page`` as a grey film positive with its colour name, register marks and job line."""
    wide, high = page.size_mm
    margin = SEPARATION_MARGIN
    grey = 1 - 0.93 * to_inks(page.pixels)[..., INKS[ink], None]
    h, w = grey.shape[:2]
    pitch = max(4.5, page.ppi / 65)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    a = np.deg2rad(ANGLES[INKS[ink]])
    u, v = (x * np.cos(a) + y * np.sin(a)) / pitch, (y * np.cos(a) - x * np.sin(a)) / pitch
    spot = 0.5 + 0.25 * (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v))
    dots = np.clip((grey[..., 0] - spot) * pitch * 0.45 + 0.5, 0, 1)
    tone = (0.12 + 0.8 * (0.55 * dots + 0.45 * grey[..., 0]))[..., None] * np.float32([1.0, 1.0, 0.99])
    ground = blank(wide + 2 * margin, high + 2 * margin, ppi, (0.92, 0.92, 0.91))
    ground = lay(ground, replace(page, pixels=tone.astype(np.float32), marks=()), margin, margin)
    scale = ground.px_per_mm
    _crop_marks(ground, margin, margin, wide, high)
    for px, py in ((margin + wide / 2, 9), (margin + wide / 2, high + 2 * margin - 9), (9, margin + high / 2)):
        register_mark(ground.pixels, px * scale, py * scale, 5.5 * scale)
    print_line(ground, ink, 6.0, "grotesque-bold", margin + 4, high + margin + 10)
    box = print_line(ground, job, 3.2, "grotesque", wide + margin - 4, high + margin + 9, anchor="right")
    rng = seeded(seed, ink)
    shape = ground.pixels.shape[:2]
    pixels = ground.pixels + (grain(rng, shape, 0.5) * 0.008 + cloud(rng, shape, 400) * 0.008)[..., None]
    return replace(ground, pixels=np.clip(pixels, 0, 1), marks=(made_mark("job", job, job.split()[-1], box, 3.2),))


def register_mark(pixels: Pixels, x: float, y: float, size: float) -> None:
    """Draw a ring with a cross."""
    at = (round(x), round(y))
    cv2.circle(pixels, at, round(size * 0.45), BLACK, 1, cv2.LINE_AA)
    cv2.line(pixels, (round(x - size), at[1]), (round(x + size), at[1]), BLACK, 1, cv2.LINE_AA)
    cv2.line(pixels, (at[0], round(y - size)), (at[0], round(y + size)), BLACK, 1, cv2.LINE_AA)


def _crop_marks(page: Page, x_mm: float, y_mm: float, wide: float, high: float) -> None:
    scale = page.px_per_mm
    for x, dx in ((x_mm, -1), (x_mm + wide, 1)):
        for y, dy in ((y_mm, -1), (y_mm + high, 1)):
            px, py = round(x * scale), round(y * scale)
            cv2.line(page.pixels, (px + round(dx * 2 * scale), py), (px + round(dx * 12 * scale), py), BLACK, 1)
            cv2.line(page.pixels, (px, py + round(dy * 2 * scale)), (px, py + round(dy * 12 * scale)), BLACK, 1)


def _colour_bar(page: Page, x_mm: float, y_mm: float, side_mm: float) -> None:
    solid = np.eye(4, dtype=np.float32)
    mixed = [solid[0] + solid[1], solid[1] + solid[2], solid[0] + solid[2]]
    steps = [*solid, *mixed, *(solid[n] * 0.5 for n in range(4)), *(solid[3] * v for v in (0.75, 0.25, 0.1))]
    colours = from_inks(np.stack(steps)[None].astype(np.float32))[0] * 0.97
    scale = page.px_per_mm
    for number, colour in enumerate(colours):
        x0, y0 = round((x_mm + number * side_mm) * scale), round(y_mm * scale)
        page.pixels[y0 : y0 + round(side_mm * scale), x0 : x0 + round(side_mm * scale)] = colour
