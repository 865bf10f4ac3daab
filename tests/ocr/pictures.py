"""Lines and small sheets drawn for the tests of reading."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from intake.imaging.page import Page
from intake.model import Box, PartKey

FONTS = Path(__file__).resolve().parents[2] / "sample_batch" / "fonts"
Picture = NDArray[np.uint8]


def font(size_px: int, face: str = "libre-franklin-latin-400-normal") -> ImageFont.FreeTypeFont:
    """One of the sample batch's open fonts."""
    return ImageFont.truetype(str(FONTS / f"{face}.woff"), size_px)


def line_picture(text: str, size_px: int = 36, ink: int = 20, ground: int = 235) -> Picture:
    """One upright line, (h, w, 3)."""
    face = font(size_px)
    wide = int(face.getlength(text)) + size_px
    picture = Image.new("RGB", (wide, int(size_px * 1.6)), (ground,) * 3)
    ImageDraw.Draw(picture).text((size_px // 2, int(size_px * 0.25)), text, font=face, fill=(ink,) * 3)
    return np.asarray(picture)


def sheet(lines: dict[str, tuple[float, float, int]], wide: int = 1200, high: int = 1700) -> Picture:
    """A plain sheet; each line stands at (x, y) fractions (left, middle) with letters of so many pixels."""
    picture = Image.new("RGB", (wide, high), (238, 232, 220))
    draw = ImageDraw.Draw(picture)
    for text, (x, y, size_px) in lines.items():
        draw.text((x * wide, y * high), text, font=font(size_px), fill=(25, 22, 20), anchor="lm")
    return np.asarray(picture)


def page_of(pixels: Picture, part: int = 1) -> Page:
    """A part that is the whole picture, as the opener would give it."""
    high, wide = pixels.shape[:2]
    scale = max(1.0, max(high, wide) / 2048)
    size = max(1, round(wide / scale)), max(1, round(high / scale))
    working = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA) if scale > 1 else pixels

    def read(box: Box, longest_px: int | None) -> Picture:
        crop = pixels[box.top : box.top + box.height, box.left : box.left + box.width]
        shrink = longest_px / max(crop.shape[:2]) if longest_px else 1.0
        if shrink >= 1:
            return crop
        smaller = max(1, round(crop.shape[1] * shrink)), max(1, round(crop.shape[0] * shrink))
        return cv2.resize(crop, smaller, interpolation=cv2.INTER_AREA)

    whole = Box(0, 0, wide, high)
    return Page(PartKey("0" * 64, part), whole, working, None, scale, whole, read)
