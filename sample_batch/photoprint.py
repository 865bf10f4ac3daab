"""Black-and-white photographic prints: proofs of artwork, studio photographs, and numbered stills."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from sample_batch.art.design import Painting
from sample_batch.light import cloud, grain, seeded, to_linear, to_srgb
from sample_batch.page import Page, Pixels, blank, lay
from sample_batch.sheet import resample
from sample_batch.typeset import BLACK, made_mark, print_line

STILL_SIZE = (254.0, 203.2)


@dataclass(frozen=True, slots=True)
class Caption:
    """The common border of a set of stills: film title, company line, and the number's prefix."""

    title: str
    company: str
    prefix: str
    year: str


def silver(pixels: Pixels, seed: int, contrast: float = 1.25, warm: float = 0.02) -> Pixels:
    """Return ``pixels`` (h, w, 3) as a silver print: one tone, paper curve, grain, a little warmth."""
    rng = seeded(seed, "silver")
    light = to_linear(pixels) @ np.float32([0.26, 0.60, 0.14])
    exposure = np.log10(light + 0.008)
    density = 0.06 + 1.95 / (1 + np.exp((exposure + 0.72) * 2.3 * contrast * 1.35))
    density += grain(rng, density.shape, 0.7) * 0.022
    tone = to_srgb((10.0**-density).astype(np.float32))
    return np.clip(tone[..., None] * np.float32([1 + warm, 1.0, 1 - 1.6 * warm]), 0, 1).astype(np.float32)


def print_photo(
    subject: Page, width_mm: float, height_mm: float, ppi: float, seed: int, border_mm: float = 6.0
) -> Page:
    """Return ``subject`` as a photographic proof with a white border, fitted whole into the picture."""
    page = _photo_paper(width_mm, height_mm, ppi, seed)
    wide, high = width_mm - 2 * border_mm, height_mm - 2 * border_mm
    scale = page.px_per_mm
    sh, sw = subject.pixels.shape[:2]
    zoom = min(wide * scale / sw, high * scale / sh)
    size = (round(sw * zoom), round(sh * zoom))
    fit = np.diag([size[0] / sw, size[1] / sh, 1.0])
    pixels = silver(resample(subject.pixels, fit, size), seed)
    art = None if subject.art is None else fit @ subject.art
    picture = Page(pixels, ppi, (), art, subject.elements)
    return lay(page, picture, (width_mm - size[0] / scale) / 2, (height_mm - size[1] / scale) / 2)


def print_still(painting: Painting, caption: Caption, number: int, ppi: float, seed: int) -> Page:
    """Return one still of a set, 254 x 203 mm: a photograph-like scene over the set's common border and caption."""
    page = _photo_paper(*STILL_SIZE, ppi, seed)
    scale = page.px_per_mm
    x0, y0, x1, y1 = (round(v * scale) for v in (7, 7, 247, 175))
    size = (x1 - x0, y1 - y0)
    h, w = painting.pixels.shape[:2]
    zoom = max(size[0] / w, size[1] / h)
    fit = np.array([[zoom, 0, (size[0] - w * zoom) / 2], [0, zoom, (size[1] - h * zoom) / 2], [0, 0, 1.0]])
    scene = resample(painting.pixels.astype(np.float32) / 255, fit, size)
    scene = cv2.bilateralFilter(scene, 7, 0.12, 2.5)
    page.pixels[y0:y1, x0:x1] = silver(scene, seed, 1.1)
    cv2.rectangle(page.pixels, (x0, y0), (x1, y1), BLACK, max(1, round(0.35 * scale)))
    print_line(page, caption.title, 7.0, "condensed", 10, 184)
    print_line(page, caption.company, 2.6, "grotesque", 10, 194)
    code = f"{caption.prefix}-{number}"
    print_line(page, code, 5.0, "typewriter", 244, 184, anchor="right")
    text = f"© {caption.year} {caption.company.title().replace(' Inc', ' Inc.')}"
    box = print_line(page, text, 2.2, "grotesque", 244, 194, anchor="right")
    to_page = np.array([[1, 0, x0], [0, 1, y0], [0, 0, 1.0]]) @ fit @ np.diag([w, h, 1.0])
    marks = (made_mark("copyright", text, caption.year, box, 2.2),)
    return replace(page, marks=marks, art=to_page, elements=dict(painting.boxes))


def _photo_paper(width_mm: float, height_mm: float, ppi: float, seed: int) -> Page:
    page = blank(width_mm, height_mm, ppi, (0.955, 0.95, 0.925))
    rng = seeded(seed, "photo paper")
    page.pixels[:] += (cloud(rng, page.pixels.shape[:2], 60 * page.px_per_mm) * 0.006)[..., None]
    return page
