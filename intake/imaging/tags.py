"""What a file says of itself: resolution with its unit, orientation, source, scanner and time. None of it is believed
blindly."""

import logging
import math
import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO

import exifread
from PIL import Image

logging.getLogger("exifread").setLevel(logging.CRITICAL)
# Only headers are read through Pillow, and sizes are bounded by our own rules before anything is decoded.
Image.MAX_IMAGE_PIXELS = None

_TEXT_CHARS = 120
_INCH, _CM = 2, 3
# EXIF 2.3: other, film scanner, reflection scanner, camera.
_FILE_SOURCES = (0, 1, 2, 3)
# No scan of that kind of file is older (TIFF 5.0 is of 1988).
_FIRST_YEAR = 1988
_CM_PER_INCH = 2.54
_PIL_FORMATS = {"JPEG": "JPEG", "PNG": "PNG", "JPEG 2000": "JPEG2000"}
# Where they state a resolution in pixels to the inch, as Pillow has it.
_DPI_WORDS = {"PNG": "pHYs", "JPEG 2000": "resolution box"}


@dataclass(frozen=True, slots=True)
class Resolution:
    """Pixels to the inch as a tag states them, or None with the reason. ``words`` tells which tag, and what is
    wrong."""

    ppi: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Tags:
    """``scanned_at`` is ISO 8601 local time or empty; ``odd`` says in words what the tags have that cannot be."""

    resolution: Resolution
    orientation: int = 1
    file_source: int | None = None
    scanner: str = ""
    scanned_at: str = ""
    odd: str = ""


def read_tags(file: BinaryIO, file_format: str) -> Tags:
    """Return the tags of an open file. Never raises on what the tags hold.

    Tag numbers: TIFF 6.0 (XResolution 0x011A, YResolution 0x011B, ResolutionUnit 0x0128, Orientation 0x0112, Make
    0x010F, Model 0x0110, DateTime 0x0132), EXIF 2.3 (FileSource 0xA300, DateTimeDigitized 0x9004).
    """
    odd = ""
    file.seek(0)
    try:
        tags = exifread.process_file(file, details=False, extract_thumbnail=False)
    except Exception as error:  # a hostile tag block may raise anything; it costs the tags, not the scan
        tags, odd = {}, f"the tags cannot be read ({type(error).__name__})"
    orientation = _number(tags.get("Image Orientation")) or 1
    if orientation not in range(1, 9):
        odd, orientation = odd or f"orientation {orientation:g} does not exist", 1
    resolution = _tagged(tags) or _native(file, file_format) or Resolution(None, "the file states no resolution")
    source = _number(tags.get("EXIF FileSource"))
    if source is not None and source not in _FILE_SOURCES:
        odd, source = odd or f"file source {source:g} does not exist", None
    maker = " ".join(t for t in (_text(tags.get("Image Make")), _text(tags.get("Image Model"))) if t)
    when = _text(tags.get("EXIF DateTimeDigitized")) or _text(tags.get("Image DateTime"))
    return Tags(resolution, int(orientation), None if source is None else int(source), maker, _iso(when), odd)


def _tagged(tags: dict[str, Any]) -> Resolution | None:
    x, y = _number(tags.get("Image XResolution")), _number(tags.get("Image YResolution"))
    if x is None and y is None:
        return None
    unit = _number(tags.get("Image ResolutionUnit"))
    if unit not in (_INCH, _CM):
        return Resolution(None, f"resolution {x or y:g} without a unit")
    return _both(x, y, "inch" if unit == _INCH else "cm", "resolution tag")


def _native(file: BinaryIO, file_format: str) -> Resolution | None:
    if file_format not in _PIL_FORMATS:
        return None
    file.seek(0)
    try:
        with Image.open(file, formats=(_PIL_FORMATS[file_format],)) as image:
            info = dict(image.info)
    except Exception:  # Pillow raises many kinds on a damaged header; the decode will say what is wrong
        return None
    if file_format in _DPI_WORDS:
        return _both(info["dpi"][0], info["dpi"][1], "inch", _DPI_WORDS[file_format]) if "dpi" in info else None
    density, unit = info.get("jfif_density"), info.get("jfif_unit")
    if density is None:
        return None
    if unit not in (1, 2):
        return Resolution(None, "the JFIF header gives a shape of pixels but no unit")
    return _both(density[0], density[1], "inch" if unit == 1 else "cm", "JFIF header")


def _both(x: float | None, y: float | None, unit: str, where: str) -> Resolution:
    x, y = x or y or 0.0, y or x or 0.0
    if not (math.isfinite(x) and math.isfinite(y)) or min(x, y) < 0.1:
        return Resolution(None, f"{where}: resolution {x:g} x {y:g} cannot be")
    if abs(x - y) > 0.01 * x:
        return Resolution(None, f"{where}: pixels are not square ({x:g} x {y:g} per {unit})")
    # pHYs counts whole pixels to the metre, so 300 ppi comes back as 299.9994
    ppi = round(x * (_CM_PER_INCH if unit == "cm" else 1.0), 2)
    return Resolution(ppi, f"{where}: {x:g} pixels per {unit}")


def _number(tag: Any) -> float | None:
    values: Any = getattr(tag, "values", None)
    if isinstance(values, list | tuple | bytes) and len(values) > 0:
        values = values[0]
    try:
        return float(values)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None


def _text(tag: Any) -> str:
    values = getattr(tag, "values", "")
    text = values if isinstance(values, str) else ""
    return re.sub(r"\s+", " ", "".join(c if c.isprintable() else " " for c in text)).strip()[:_TEXT_CHARS]


def _iso(text: str) -> str:
    """ISO 8601 of a date and time, or empty where it can be none: a clock that was never set says 0000 or 1970."""
    match = re.match(r"(\d{4})[:-](\d\d)[:-](\d\d)[ T](\d\d:\d\d:\d\d)", text)
    try:
        when = datetime.fromisoformat("{}-{}-{}T{}".format(*match.groups())) if match else None
    except ValueError:
        return ""
    return when.isoformat() if when and when.year >= _FIRST_YEAR else ""
