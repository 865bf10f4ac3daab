"""Setting type at a true height in millimetres."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from sample_batch.art.lettering import font
from sample_batch.page import Box, Mark, Page, Pixels

Ink = tuple[float, float, float]
BLACK: Ink = (0.10, 0.09, 0.09)


@lru_cache(maxsize=256)
def sized_font(face: str, cap_px: float) -> ImageFont.FreeTypeFont:
    """Return ``face`` at the size that makes a capital H ``cap_px`` high."""
    probe = font(face, 400)
    top, bottom = probe.getbbox("H")[1], probe.getbbox("H")[3]
    return font(face, cap_px * 400 / (bottom - top))


def set_line(text: str, cap_px: float, face: str, tracking: float = 0.0) -> Pixels:
    """Return the ink of one line of type, (h, w) float32 in 0..1, cut close to the letters.

    ``tracking`` is extra space between letters in cap heights.
    """
    drawn = sized_font(face, cap_px)
    space = tracking * cap_px
    width = sum(drawn.getlength(c) + space for c in text) if space else drawn.getlength(text)
    image = Image.new("L", (int(width + 4 * cap_px) + 4, int(cap_px * 3) + 4), 0)
    draw = ImageDraw.Draw(image)
    x, y = cap_px, cap_px * 2
    if space:
        for letter in text:
            draw.text((x, y), letter, font=drawn, fill=255, anchor="ls")
            x += drawn.getlength(letter) + space
    else:
        draw.text((x, y), text, font=drawn, fill=255, anchor="ls")
    ink = np.asarray(image, np.float32) / 255
    rows, columns = np.flatnonzero(ink.max(axis=1) > 0.05), np.flatnonzero(ink.max(axis=0) > 0.05)
    if not rows.size:
        return np.zeros((1, 1), np.float32)
    return ink[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def press_ink(pixels: Pixels, ink: Pixels, x: float, y: float, colour: Ink, strength: float = 1.0) -> Box:
    """Print ``ink`` into ``pixels`` (changed in place) with its top left at (x, y) pixels. Return its box there."""
    h, w = pixels.shape[:2]
    left, top = round(x), round(y)
    l0, t0, r0, b0 = max(0, left), max(0, top), min(w, left + ink.shape[1]), min(h, top + ink.shape[0])
    if r0 > l0 and b0 > t0:
        part = pixels[t0:b0, l0:r0]
        cover = ink[t0 - top : b0 - top, l0 - left : r0 - left, None] * strength
        part += (np.float32(colour) - part) * cover
    return float(left), float(top), float(left + ink.shape[1]), float(top + ink.shape[0])


def turn(ink: NDArray[np.float32], degrees: int) -> NDArray[np.float32]:
    """Return ``ink`` turned clockwise by 0, 90, 180 or 270 degrees."""
    return np.ascontiguousarray(np.rot90(ink, -degrees // 90))


def print_line(
    page: Page,
    text: str,
    cap_mm: float,
    face: str,
    x_mm: float,
    y_mm: float,
    *,
    anchor: str = "left",
    turned: int = 0,
    colour: Ink = BLACK,
    tracking: float = 0.0,
    strength: float = 1.0,
) -> Box:
    """Print a line on ``page`` (its pixels are changed in place) and return its box.

    (x, y) is the middle of the line's height, and its left end, middle or right end along the reading direction.
    """
    scale = page.px_per_mm
    ink = turn(set_line(text, cap_mm * scale, face, tracking), turned)
    h, w = ink.shape
    along = {"left": 0.0, "centre": 0.5, "right": 1.0}[anchor]
    if turned in (0, 180):
        along = along if turned == 0 else 1 - along
        x, y = x_mm * scale - along * w, y_mm * scale - h / 2
    else:
        along = along if turned == 90 else 1 - along
        x, y = x_mm * scale - w / 2, y_mm * scale - along * h
    return press_ink(page.pixels, ink, x, y, colour, strength)


def made_mark(kind: str, text: str, value: str, box: Box, cap_mm: float) -> Mark:
    """Return the mark of a printed line."""
    return Mark(kind, text, value, box, round(cap_mm, 2))
