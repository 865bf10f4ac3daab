"""From things on a bed to pixels of a scan: place, turn, mirror, blur, noise."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from sample_batch.light import cloud, grain, seeded
from sample_batch.page import Box, Matrix, Page, Pixels, blank, carry, carry_box, lay
from sample_batch.typeset import Ink

BEDS: dict[str, Ink] = {
    "grey": (0.47, 0.475, 0.48),
    "black": (0.045, 0.045, 0.05),
    "white": (0.94, 0.945, 0.95),
    "lamp": (0.985, 0.985, 0.985),
    "mask": (0.015, 0.015, 0.015),
}


@dataclass(frozen=True, slots=True)
class Setting:
    """How a scan was made. Lengths in mm; ``angle_deg`` is the skew of the piece on the bed.

    ``rotation`` and ``mirrored`` follow the project's rule: mirror first, then turn clockwise, and the scan is upright.
    """

    bed: str = "grey"
    margin_mm: float = 14.0
    angle_deg: float = 0.0
    rotation: int = 0
    mirrored: bool = False
    blur_mm: float = 0.0
    noise: float = 0.0035
    exposure: float = 1.0
    warmth: float = 0.0
    columns: int = 1
    gap_mm: float = 6.0
    window: Box | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True)
class PartSeen:
    """One piece's picture in a scan: its page in stored pixels (``pixels`` are the whole scan's) and its outline."""

    page: Page
    box: Box


@dataclass(frozen=True, slots=True)
class Scanned:
    """``pixels`` (h, w, 3) in 0..1 as stored, with what is known of each part."""

    pixels: Pixels
    ppi: float
    parts: tuple[PartSeen, ...]


def scan(pages: list[Page], setting: Setting) -> Scanned:
    """Scan ``pages`` side by side on one bed. All must have one ppi. ``setting.window`` (fractions) crops the bed."""
    ppi = pages[0].ppi
    sizes = [page.size_mm for page in pages]
    columns = min(setting.columns, len(pages))
    cell_w, cell_h = max(s[0] for s in sizes), max(s[1] for s in sizes)
    rows = -(-len(pages) // columns)
    wide = columns * cell_w + (columns - 1) * setting.gap_mm + 2 * setting.margin_mm
    high = rows * cell_h + (rows - 1) * setting.gap_mm + 2 * setting.margin_mm
    bed = blank(wide, high, ppi, BEDS[setting.bed])
    rng = seeded(setting.seed, "scan")
    if setting.bed == "grey":
        bed.pixels[:] += (cloud(rng, bed.pixels.shape[:2], max(bed.pixels.shape) * 0.6) * 0.02)[..., None]
    pixels = bed.pixels
    parts: list[tuple[Page, Matrix]] = []
    for number, page in enumerate(pages):
        row, column = divmod(number, columns)
        jitter = rng.uniform(-0.25, 0.25, 3) if len(pages) > 1 else np.zeros(3)
        x = setting.margin_mm + column * (cell_w + setting.gap_mm) + jitter[0] * setting.gap_mm
        y = setting.margin_mm + row * (cell_h + setting.gap_mm) + jitter[1] * setting.gap_mm
        shadow = 0.45 if setting.bed in ("grey", "white") else 0.0
        angle = setting.angle_deg + jitter[2] * 5
        outline = {"outline": (0.0, 0.0, float(page.pixels.shape[1]), float(page.pixels.shape[0]))}
        known = replace(page, added={**outline, **page.added})
        laid = lay(replace(bed, pixels=pixels), known, x, y, angle, shadow)
        pixels = laid.pixels
        parts.append((replace(laid, ppi=ppi), np.eye(3)))
    steps, pixels = _store(pixels, setting)
    pixels = _capture(pixels, setting, ppi, rng)
    seen = []
    for laid, _ in parts:
        stored = carry(laid, steps, pixels)
        box = stored.added["outline"]
        inside = {name: b for name, b in stored.added.items() if name != "outline"}
        seen.append(PartSeen(_clip(replace(stored, added=inside)), _clip_box(box, pixels.shape)))
    return Scanned(pixels, ppi, tuple(seen))


def enlarged(scanned: Scanned, times: int) -> Scanned:
    """Return what is known of a scan whose file is written ``times`` as large; the pixels stay as they are."""
    grow = np.diag([float(times), float(times), 1.0])
    parts = tuple(
        PartSeen(replace(carry(p.page, grow, p.page.pixels), ppi=p.page.ppi * times), carry_box(grow, p.box))
        for p in scanned.parts
    )
    return Scanned(scanned.pixels, scanned.ppi * times, parts)


def _store(pixels: Pixels, setting: Setting) -> tuple[Matrix, Pixels]:
    """Crop to the window, turn counter-clockwise and mirror. Return the matrix that does so, and the pixels."""
    h, w = pixels.shape[:2]
    matrix = np.eye(3)
    if setting.window is not None:
        x0, y0, x1, y1 = (round(f * s) for f, s in zip(setting.window, (w, h, w, h), strict=True))
        pixels = pixels[y0:y1, x0:x1]
        matrix = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1.0]])
        h, w = pixels.shape[:2]
    turns = setting.rotation // 90
    turned = {
        0: np.eye(3),
        1: np.array([[0, 1, 0], [-1, 0, w], [0, 0, 1.0]]),
        2: np.array([[-1, 0, w], [0, -1, h], [0, 0, 1.0]]),
        3: np.array([[0, -1, h], [1, 0, 0], [0, 0, 1.0]]),
    }[turns]
    pixels, matrix = np.rot90(pixels, turns), turned @ matrix
    if setting.mirrored:
        matrix = np.array([[-1, 0, pixels.shape[1]], [0, 1, 0], [0, 0, 1.0]]) @ matrix
        pixels = pixels[:, ::-1]
    return matrix, np.ascontiguousarray(pixels)


def _capture(pixels: Pixels, setting: Setting, ppi: float, rng: np.random.Generator) -> Pixels:
    """Optics and sensor: focus, exposure, colour of the lamp, noise."""
    out = pixels
    if setting.blur_mm:
        out = cv2.GaussianBlur(out, (0, 0), setting.blur_mm * ppi / 25.4)
    if setting.exposure != 1.0 or setting.warmth:
        out = out * (setting.exposure * np.float32([1 + setting.warmth, 1.0, 1 - setting.warmth]))
    noise = grain(rng, out.shape[:2], 0.4)
    return np.clip(out + noise[..., None] * setting.noise, 0, 1).astype(np.float32)


def _clip_box(box: Box, shape: tuple[int, ...]) -> Box:
    h, w = shape[:2]
    return max(0.0, box[0]), max(0.0, box[1]), min(float(w), box[2]), min(float(h), box[3])


def _clip(page: Page) -> Page:
    """Keep what is in the picture: marks and added boxes that lie inside it, and what it shows of the painting."""
    shape = page.pixels.shape
    marks = tuple(replace(m, box=_clip_box(m.box, shape)) for m in page.marks if _inside(m.box, shape) > 0.9)
    added = {name: _clip_box(b, shape) for name, b in page.added.items() if _inside(b, shape) > 0.5}
    shown = page.shown
    if page.art is not None:
        h, w = shape[:2]
        seen = carry_box(np.linalg.inv(page.art), (0.0, 0.0, float(w), float(h)))
        shown = (*map(max, shown[:2], seen[:2]), *map(min, shown[2:], seen[2:]))
    return replace(page, marks=marks, added=added, shown=shown)


def _inside(box: Box, shape: tuple[int, ...]) -> float:
    cut = _clip_box(box, shape)
    area = max(1e-6, (box[2] - box[0]) * (box[3] - box[1]))
    return max(0.0, cut[2] - cut[0]) * max(0.0, cut[3] - cut[1]) / area
