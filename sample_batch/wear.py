"""What the years do to paper: folds, pins, stains, light, backing, and strips pasted over."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from sample_batch.light import cloud, grain, seeded
from sample_batch.page import Page, Pixels, blank, lay
from sample_batch.typeset import BLACK, Ink, print_line

PAPER: Ink = (0.93, 0.915, 0.87)


@dataclass(frozen=True, slots=True)
class Wear:
    """How a piece aged; 0 is none, 1 is hard. ``folds``: vertical and horizontal panels (4, 2 = three and one line)."""

    folds: tuple[int, int] = (1, 1)
    fold_wear: float = 0.5
    printed_folds: bool = False
    pinholes: bool = False
    stains: float = 0.0
    fade: float = 0.0
    toning: float = 0.2
    linen: bool = False
    seed: int = 0


def age(page: Page, wear: Wear) -> Page:
    """Return ``page`` after ``wear``, linen excepted (see ``back_with_linen``)."""
    pixels = page.pixels.copy()
    if wear.fade:
        pixels = _fade(pixels, wear.fade)
    scale = page.px_per_mm
    if wear.toning:
        pixels = _tone(pixels, scale, wear)
    if wear.stains:
        pixels = _stain(pixels, scale, wear)
    if wear.folds != (1, 1):
        pixels = fold(pixels, scale, wear.folds, wear.fold_wear, wear.seed, wear.printed_folds)
    if wear.pinholes:
        _pin(pixels, scale, wear.seed)
    return replace(page, pixels=np.clip(pixels, 0, 1).astype(np.float32))


def _fade(pixels: Pixels, amount: float) -> Pixels:
    """Cyan ink goes first, so that red reflects more; yellow follows a little."""
    levels = np.maximum(np.linspace(0, 1, 1024, dtype=np.float32), 0.02)
    index = (np.clip(pixels, 0, 1) * 1023).astype(np.uint16)
    keep = (1 - 0.5 * amount, 1 - 0.18 * amount, 1 - 0.30 * amount)
    return np.dstack([(levels ** np.float32(k))[index[..., channel]] for channel, k in enumerate(keep)])


def _coarse(shape: tuple[int, int], parts: int) -> tuple[int, int]:
    return max(2, shape[0] // parts), max(2, shape[1] // parts)


def _darken(pixels: Pixels, amount: Pixels, tint: tuple[float, float, float]) -> Pixels:
    """Return ``pixels`` darkened by a coarse field ``amount`` in the proportions of ``tint``."""
    full = cv2.resize(amount, pixels.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return pixels * (1 - full[..., None] * np.float32(tint))


def _tone(pixels: Pixels, scale: float, wear: Wear) -> Pixels:
    """Acid browning from the edges inward, uneven."""
    h, w = _coarse(pixels.shape[:2], 4)
    rng = seeded(wear.seed, "tone")
    y, x = np.ogrid[0:h, 0:w]
    edge = np.minimum(np.minimum(x, w - 1 - x), np.minimum(y, h - 1 - y)).astype(np.float32) * 4 / scale
    amount = wear.toning * (0.10 * np.exp(-edge / 26) + 0.05) * (1 + 0.25 * cloud(rng, (h, w), 15 * scale))
    return _darken(pixels, amount, (0.55, 1.0, 1.9))


def _stain(pixels: Pixels, scale: float, wear: Wear) -> Pixels:
    """Tide lines at an edge and a sprinkle of foxing."""
    h, w = _coarse(pixels.shape[:2], 2)
    scale = scale / 2
    rng = seeded(wear.seed, "stain")
    field = cloud(rng, (h, w), 55 * scale) * 14 * scale
    y, x = np.ogrid[0:h, 0:w]
    side = int(rng.integers(0, 3))
    reach = np.float32([x, w - 1 - x, h - 1 - y][side]) + field
    limit = 0.10 * min(h, w)
    inside = 1 / (1 + np.exp(np.clip((reach - limit) / (0.8 * scale), -60, 60)))
    line = np.exp(-(((reach - limit) / (1.1 * scale)) ** 2))
    amount = wear.stains * (0.06 * inside + 0.20 * line)
    spots = np.zeros((h, w), np.float32)
    for _ in range(int(60 * wear.stains)):
        at = (int(rng.uniform(0, w)), int(rng.uniform(0, h)))
        radius = max(1, round(rng.uniform(0.3, 1.3) * scale))
        cv2.circle(spots, at, radius, float(rng.uniform(0.1, 0.4)), -1, cv2.LINE_AA)
    amount = amount + wear.stains * cv2.GaussianBlur(spots, (0, 0), 0.4 * scale + 0.4)
    return _darken(pixels, amount.astype(np.float32), (0.5, 0.9, 1.4))


def fold_lines(panels: int) -> list[float]:
    """Return where the lines of equal halving or thirds lie, as fractions of the edge."""
    return [n / panels for n in range(1, panels)]


def fold(
    pixels: Pixels, scale: float, panels: tuple[int, int], strength: float, seed: int, printed: bool = False
) -> Pixels:
    """Return ``pixels`` folded. A real fold breaks the ink to bare paper and shades; a ``printed`` one only shades."""
    h, w = pixels.shape[:2]
    rng = seeded(seed, "fold")
    loss, shade = np.zeros((h, w), np.float32), np.zeros((h, w), np.float32)
    for axis, count in ((1, panels[0]), (0, panels[1])):
        for at in fold_lines(count):
            _one_fold(loss, shade, axis, at, scale, strength, rng)
    crossings = [(x, y) for x in fold_lines(panels[0]) for y in fold_lines(panels[1])]
    for cx, cy in crossings:
        radius = (1.2 + 2.2 * strength * rng.random()) * scale
        points = _ragged(rng, cx * w, cy * h, radius)
        cv2.fillPoly(loss, [points], float(0.5 + 0.4 * strength), cv2.LINE_AA)
    out = pixels * (1 + shade[..., None])
    if printed:
        soft = cv2.GaussianBlur(loss, (0, 0), 0.35 * scale + 0.5)[..., None] * 0.55
        return np.clip(out + (0.86 - out) * soft, 0, 1)
    loss = cv2.GaussianBlur(loss, (0, 0), 0.5)[..., None]
    bare = np.float32(PAPER) * 0.985
    return np.clip(out + (bare - out) * np.clip(loss, 0, 1), 0, 1)


def _one_fold(
    loss: Pixels, shade: Pixels, axis: int, at: float, scale: float, strength: float, rng: np.random.Generator
) -> None:
    """Draw one line: ``axis`` 1 is a vertical line at fraction ``at`` of the width."""
    view_loss, view_shade = (loss, shade) if axis == 0 else (loss.T, shade.T)
    across, along = view_loss.shape
    wander = cv2.GaussianBlur(rng.standard_normal((1, along)).astype(np.float32), (0, 0), 40 * scale)[0]
    middle = at * across + wander / (wander.std() + 1e-6) * 0.5 * scale + rng.uniform(-1, 1) * scale
    broken = cv2.GaussianBlur(rng.standard_normal((1, along)).astype(np.float32), (0, 0), 2.2 * scale)[0]
    broken = broken / (broken.std() + 1e-6)
    fine = cv2.GaussianBlur(rng.standard_normal((1, along)).astype(np.float32), (0, 0), 0.5 * scale)[0]
    fine = fine / (fine.std() + 1e-6)
    wide = (0.10 + 0.28 * strength * np.clip(broken * 0.6 + fine * 0.5 + 0.5, 0, 2.4)) * scale
    amount = np.clip(0.35 + 0.5 * strength + 0.35 * broken + 0.25 * fine, 0.06, 1)
    reach = int(16 * scale)
    low, high = max(0, int(at * across) - reach), min(across, int(at * across) + reach)
    distance = np.arange(low, high, dtype=np.float32)[:, None] - middle[None, :]
    cover = np.clip(wide[None] - np.abs(distance) + 0.5, 0, 1) * amount[None]
    view_loss[low:high] = np.maximum(view_loss[low:high], cover)
    mm = distance / scale
    side = 1.0 if rng.random() < 0.5 else -1.0
    ridge = 0.045 * np.exp(-np.abs(mm + side * 1.2) / 2.2) - 0.075 * np.exp(-np.abs(mm - side * 1.0) / 1.6)
    ridge += -side * 0.03 * np.sign(mm) * np.exp(-np.abs(mm) / 7)
    view_shade[low:high] += ridge * (0.6 + 0.5 * strength)


def _ragged(rng: np.random.Generator, x: float, y: float, radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 11)[:-1]
    reach = radius * (0.45 + 0.75 * rng.random(10))
    return np.stack([x + reach * np.cos(turn), y + reach * np.sin(turn)], axis=1).astype(np.int32)


def _pin(pixels: Pixels, scale: float, seed: int) -> None:
    """Pinholes near the corners, some doubled, with a faint rust ring."""
    h, w = pixels.shape[:2]
    rng = seeded(seed, "pins")
    for cx in (0, 1):
        for cy in (0, 1):
            for _ in range(int(rng.integers(1, 4))):
                inset_x, inset_y = rng.uniform(5, 11, 2) * scale
                at = (round(inset_x if cx == 0 else w - inset_x), round(inset_y if cy == 0 else h - inset_y))
                cv2.circle(pixels, at, max(1, round(0.8 * scale)), (0.66, 0.52, 0.40), -1, cv2.LINE_AA)
                cv2.circle(pixels, at, max(1, round(0.42 * scale)), (0.12, 0.11, 0.11), -1, cv2.LINE_AA)


def back_with_linen(page: Page, seed: int, border_mm: float = 28.0) -> Page:
    """Return ``page`` pasted on woven cloth that shows round the sheet; the measure of the piece stays the paper."""
    wide, high = page.size_mm
    cloth = blank(wide + 2 * border_mm, high + 2 * border_mm, page.ppi, (0.90, 0.875, 0.81))
    h, w = cloth.pixels.shape[:2]
    rng = seeded(seed, "linen")
    pitch = max(2.2, 0.62 * page.px_per_mm)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    threads = np.sin(2 * np.pi * x / pitch + cloud(rng, (h, w), 40)) * np.sin(2 * np.pi * y / pitch)
    slub = cv2.GaussianBlur(rng.standard_normal((h, w)).astype(np.float32), (0, 0), sigmaX=12, sigmaY=0.7)
    cloth.pixels[:] += (threads * 0.025 + slub / slub.std() * 0.012)[..., None]
    laid = lay(cloth, page, border_mm, border_mm, shadow=0.10)
    return replace(laid, pixels=np.clip(laid.pixels, 0, 1))


def paste(page: Page, name: str, strip: Page, x_mm: float, y_mm: float, angle_deg: float = 0.0) -> Page:
    """Return ``page`` with ``strip`` pasted on it, edges and shadow showing; its box is kept under ``name``.

    Marks that the strip covers by half or more are no longer there.
    """
    laid = lay(page, replace(strip, art=None, elements={}), x_mm, y_mm, angle_deg, shadow=0.38)
    scale = page.px_per_mm
    wide, high = strip.size_mm
    box = (x_mm * scale, y_mm * scale, (x_mm + wide) * scale, (y_mm + high) * scale)
    kept = tuple(m for m in page.marks if _covered(m.box, box) < 0.5)
    new = laid.marks[len(page.marks) :]
    return replace(laid, marks=kept + new, elements=page.elements, art=page.art, added={**page.added, name: box})


def _covered(box: tuple[float, ...], by: tuple[float, ...]) -> float:
    wide = min(box[2], by[2]) - max(box[0], by[0])
    high = min(box[3], by[3]) - max(box[1], by[1])
    return max(0.0, wide) * max(0.0, high) / max(1.0, (box[2] - box[0]) * (box[3] - box[1]))


def plain_strip(width_mm: float, height_mm: float, ppi: float, colour: Ink, seed: int, text: str = "") -> Page:
    """Return a strip of paper, with one line of type when ``text`` is given."""
    strip = blank(width_mm, height_mm, ppi, colour)
    h, w = strip.pixels.shape[:2]
    rng = seeded(seed, "strip")
    strip.pixels[:] += (grain(rng, (h, w), 0.8) * 0.008 + cloud(rng, (h, w), 60) * 0.008)[..., None]
    if text:
        ink = BLACK if sum(colour) > 1.5 else (0.95, 0.94, 0.9)
        print_line(
            strip, text, height_mm * 0.42, "gothic-bold", width_mm / 2, height_mm / 2, anchor="centre", colour=ink
        )
    return strip
