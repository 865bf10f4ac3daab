"""Display lettering, an invented hand-written mark, and the fonts of the sample batch."""

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

Rgb = tuple[int, int, int]
Floats = NDArray[np.float32]
Image8 = NDArray[np.uint8]

FONTS = Path(__file__).resolve().parent.parent / "fonts"
FACES = {
    "condensed": "league-gothic-latin-400-normal.woff",
    "billing": "six-caps-latin-400-normal.woff",
    "poster": "anton-latin-400-normal.woff",
    "tall": "bebas-neue-latin-400-normal.woff",
    "gothic": "oswald-latin-400-normal.woff",
    "gothic-bold": "oswald-latin-700-normal.woff",
    "narrow": "antonio-latin-400-normal.woff",
    "narrow-bold": "antonio-latin-700-normal.woff",
    "grotesque": "libre-franklin-latin-400-normal.woff",
    "grotesque-bold": "libre-franklin-latin-700-normal.woff",
    "serif": "libre-baskerville-latin-400-normal.woff",
    "serif-bold": "libre-baskerville-latin-700-normal.woff",
    "typewriter": "courier-prime-latin-400-normal.woff",
    "roman-caps": "cinzel-latin-700-normal.woff",
    "brushed": "knewave-latin-400-normal.woff",
    "script": "kaushan-script-latin-400-normal.woff",
}


@lru_cache(maxsize=256)
def font(face: str, size_px: float) -> ImageFont.FreeTypeFont:
    """The face at an em size of `size_px` pixels; KeyError for a face that FACES does not name."""
    # The basic layout engine gives the same widths on every machine, whether or not a shaping library is there.
    return ImageFont.truetype(str(FONTS / FACES[face]), size_px, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=64)
def cap_ratio(face: str) -> float:
    """Height of the capital H as a fraction of the em, so that type can be set by its cap height."""
    _, top, _, bottom = font(face, 1000).getbbox("H")
    return float(bottom - top) / 1000


def letter(
    text: str,
    height_px: int,
    *,
    face: str,
    fill: Rgb,
    outline: Rgb | None = None,
    shadow: Rgb | None = None,
    slant: float = 0.0,
    arch: float = 0.0,
    tracking: float = 0.0,
) -> Image8:
    """One line of display lettering as RGBA uint8 (h, w, 4), trimmed to its ink.

    `height_px` is the cap height. `slant` is the sideways shift per unit of height (0.2 leans right), `arch` the rise
    of the middle over the ends in cap heights (negative sags), `tracking` the added space between letters in ems.
    """
    finer = 4 if height_px < 40 else 2 if height_px < 400 else 1
    cap = height_px * finer
    mask = _bend(_set_line(text, cap, face, tracking), cap, slant, arch)
    if face == "brushed":
        mask = _dry(mask, cap, text)
    reach = round(cap * 0.16) + 2
    mask = np.pad(mask, reach)
    rgba = np.zeros((*mask.shape, 4), np.float32)
    if shadow is not None:
        away = max(1, round(cap * 0.075))
        _lay(rgba, _fatten(_smear(mask, away), cap * 0.05 if outline is not None else 0.0), shadow)
    if outline is not None:
        _lay(rgba, _fatten(mask, cap * 0.05), outline)
    _lay(rgba, mask, fill)
    ys, xs = np.nonzero(rgba[..., 3] > 2)
    if not len(ys):
        return np.zeros((height_px, 1, 4), np.uint8)
    rgba = rgba[ys.min() : ys.max() + 1, xs.min() : xs.max() + 1]
    return _shrink(rgba, finer)


def signature_strokes(seed: int) -> list[Floats]:
    """An invented hand-written mark: strokes as (n, 3) arrays of x, y in 0..1 (x to about 2.6) and pen width."""
    rng = np.random.Generator(np.random.PCG64([seed, 0x5163]))
    strokes: list[Floats] = []
    count = int(rng.integers(4, 7))
    x = 0.15
    # A tall flourish, then a run of low loops, as a name written fast turns out.
    knots = [(x, 0.75), (x + 0.10, 0.05 + 0.1 * rng.random()), (x + 0.22, 0.85), (x + 0.02, 0.55), (x + 0.4, 0.5)]
    x += 0.4
    for _ in range(count):
        step = 0.16 + 0.16 * rng.random()
        tall = 0.15 + 0.3 * rng.random() if rng.random() < 0.3 else 0.45 + 0.1 * rng.random()
        knots += [(x + step * 0.5, tall), (x + step * 0.35, 0.7 + 0.06 * rng.random()), (x + step, 0.56)]
        x += step
    knots.append((x + 0.3, 0.35 + 0.3 * rng.random()))
    strokes.append(_pen(np.array(knots, np.float32), rng))
    under = np.array([(x * 0.95, 0.86), (x * 0.5, 0.92 + 0.06 * rng.random()), (0.25, 0.95)], np.float32)
    strokes.append(_pen(under, rng))
    if rng.random() < 0.6:
        strokes.append(_pen(np.array([(0.05, 0.35), (0.5, 0.22 + 0.1 * rng.random())], np.float32), rng))
    return strokes


def script_signature(seed: int, height_px: int, ink: Rgb = (24, 22, 26)) -> Image8:
    """The mark of `signature_strokes` as RGBA uint8 (height_px, w, 4)."""
    finer = 4
    size = height_px * finer
    strokes = signature_strokes(seed)
    width = int(size * (max(float(s[:, 0].max()) for s in strokes) + 0.1))
    mask = np.zeros((size, width), np.uint8)
    for stroke in strokes:
        for x, y, pen in stroke:
            cv2.circle(mask, (int(x * size * 16), int(y * size * 16)), int(pen * size * 16), 255, -1, cv2.LINE_AA, 4)
    rgba = np.zeros((size, width, 4), np.float32)
    _lay(rgba, mask.astype(np.float32) / 255, ink)
    return _shrink(rgba, finer)


def _pen(knots: Floats, rng: np.random.Generator) -> Floats:
    """Points close together along a smooth line through the knots, with a pen that swells on the way down."""
    line = smooth(knots, 40)
    down = np.gradient(line[:, 1])
    width = 0.011 + 0.012 * np.clip(down / (np.abs(down).max() + 1e-6), 0, 1) + 0.003 * rng.random()
    return np.column_stack([line, width]).astype(np.float32)


def smooth(knots: Floats, steps: int, closed: bool = False) -> Floats:
    """A Catmull-Rom curve through (n, 2) knots, `steps` points for each span."""
    if closed:
        around = np.concatenate([knots[-1:], knots, knots[:2]])
    else:
        around = np.concatenate([knots[:1], knots, knots[-1:]])
    a, b, c, d = around[:-3, None], around[1:-2, None], around[2:-1, None], around[3:, None]
    t = np.linspace(0, 1, steps, endpoint=False, dtype=np.float32)[None, :, None]
    curve = b + 0.5 * t * ((c - a) + t * ((2 * a - 5 * b + 4 * c - d) + t * (3 * (b - c) + d - a)))
    points = curve.reshape(-1, 2)
    return points if closed else np.concatenate([points, knots[-1:]])


def _set_line(text: str, cap: int, face: str, tracking: float) -> Floats:
    em = cap / cap_ratio(face)
    type_ = font(face, em)
    pens, x = [], 0.0
    for here, after in zip(text, [*text[1:], ""], strict=True):
        pens.append(x)
        x += type_.getlength(here + after) - type_.getlength(after) + tracking * em
    side = int(em * 0.2)
    page = Image.new("L", (int(x) + 2 * side + 1, int(em * 1.7)), 0)
    draw = ImageDraw.Draw(page)
    for char, pen in zip(text, pens, strict=True):
        draw.text((side + pen, em * 0.2), char, fill=255, font=type_)
    return np.asarray(page, np.float32) / 255


def _bend(mask: Floats, cap: int, slant: float, arch: float) -> Floats:
    if not slant and not arch:
        return mask
    high, wide = mask.shape
    rise, lean = int(abs(arch) * cap) + 1, int(abs(slant) * high) + 1
    ys, xs = np.mgrid[0 : high + rise, 0 : wide + lean].astype(np.float32)
    inked = np.flatnonzero(mask.any(0))
    first, last = (float(inked[0]), float(inked[-1])) if len(inked) else (0.0, float(wide))
    across = np.clip((xs - lean / 2 - first) / max(last - first, 1.0) * 2 - 1, -1, 1)
    lift = arch * cap * (1 - across**2)
    back_y = ys - rise * (1 if arch > 0 else 0) + lift
    back_x = xs - lean / 2 - slant * (high / 2 - back_y)
    return np.asarray(cv2.remap(mask, back_x, back_y, cv2.INTER_LINEAR), np.float32)


def _dry(mask: Floats, cap: int, text: str) -> Floats:
    """Streaks of an almost dry brush along the writing."""
    rng = np.random.Generator(np.random.PCG64([len(text), *text.encode()[:24]]))
    grain = rng.random((90, 24), np.float32)
    streaks = cv2.resize(grain, (mask.shape[1], int(cap * 1.7)), interpolation=cv2.INTER_CUBIC)
    streaks = np.resize(streaks, mask.shape)
    edge = cv2.GaussianBlur(mask, (0, 0), cap * 0.05)
    return np.clip(mask * np.clip((edge * 1.4 + streaks - 0.62) * 6, 0, 1), 0, 1)


def _fatten(mask: Floats, reach: float) -> Floats:
    size = round(reach) * 2 + 1
    if size < 3:
        return mask
    return np.asarray(cv2.dilate(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))), np.float32)


def _smear(mask: Floats, away: int) -> Floats:
    """A block shadow: the letters drawn out down and to the right in even steps."""
    out = mask.copy()
    for step in range(1, away + 1):
        out[step:, step:] = np.maximum(out[step:, step:], mask[:-step, :-step])
    return out


def _lay(rgba: Floats, mask: Floats, colour: Rgb) -> None:
    """Paint the colour over `rgba` (alpha 0..255) where the mask is."""
    below = rgba[..., 3] / 255
    alpha = mask + below * (1 - mask)
    share = np.where(alpha > 0, mask / np.maximum(alpha, 1e-6), 1.0)[..., None]
    rgba[..., :3] = rgba[..., :3] * (1 - share) + np.array(colour, np.float32) * share
    rgba[..., 3] = alpha * 255


def _shrink(rgba: Floats, finer: int) -> Image8:
    if finer > 1:
        size = (max(1, round(rgba.shape[1] / finer)), max(1, round(rgba.shape[0] / finer)))
        weighted = rgba.copy()
        weighted[..., :3] *= rgba[..., 3:] / 255
        weighted = cv2.resize(weighted, size, interpolation=cv2.INTER_AREA)
        weighted[..., :3] /= np.maximum(weighted[..., 3:] / 255, 1e-3)
        rgba = weighted
    return np.clip(rgba + 0.5, 0, 255).astype(np.uint8)
