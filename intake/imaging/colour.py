"""From whatever a file stores to what we keep (grey, RGB or CMYK of 8 or 16 bits), and from that to sRGB."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from intake.imaging.libvips import pyvips

Stored = NDArray[np.uint8] | NDArray[np.uint16]
_WHITE = {"uchar": 255, "ushort": 65535}
_NARROW = ("uchar", "ushort")
_FLAT = ("b-w", "grey16", "srgb", "rgb", "rgb16", "cmyk", "multiband")


def words(image: Any) -> str:
    """Return the colour of a libvips image in plain words."""
    if "palette" in image.get_fields():
        return "palette"
    names = {
        "b-w": "grey",
        "grey16": "grey",
        "srgb": "RGB",
        "rgb": "RGB",
        "rgb16": "RGB",
        "scrgb": "RGB",
        "cmyk": "CMYK",
    }
    return names.get(image.interpretation, "Lab" if image.interpretation.startswith("lab") else image.interpretation)


def storable(image: Any) -> Any:
    """Return ``image`` with 1, 3 or 4 (CMYK) bands of 8 or 16 unsigned bits, transparency laid on white.

    Values are otherwise left as they are stored; floating point runs from 0 to 1, as TIFF writers have it.
    """
    if image.interpretation not in _FLAT:
        image = image.colourspace("rgb16")
    if image.format in ("uint", "int"):
        image = (image / 65536).cast("ushort")
    elif image.format not in _NARROW:
        image = (image * 65535 if image.format in ("float", "double") else image).cast("ushort")
    if image.hasalpha():
        image = image.flatten(background=[_WHITE[image.format]])
    kept = image.bands if image.bands in (1, 3) or image.interpretation == "cmyk" else (3 if image.bands > 3 else 1)
    return image if kept == image.bands else image.extract_band(0, n=kept)


def to_srgb(stored: Stored, profile: bytes | None) -> NDArray[np.uint8]:
    """Return (h, w, 3) uint8 sRGB of (h, w, bands) stored pixels; ``profile`` is the ICC profile that came with them.

    A profile that cannot be used is ignored, as if the file had none.
    """
    bands = stored.shape[2]
    if profile is None and bands != 4:
        eight = stored if stored.dtype == np.uint8 else ((stored.astype(np.uint32) + 128) // 257).astype(np.uint8)
        return np.ascontiguousarray(np.repeat(eight, 3, axis=2) if bands == 1 else eight, dtype=np.uint8)
    deep = stored.dtype == np.uint16
    kind = {1: "grey16" if deep else "b-w", 3: "rgb16" if deep else "srgb", 4: "cmyk"}[bands]
    image = pyvips.Image.new_from_array(np.ascontiguousarray(stored), interpretation=kind)
    if profile is None:
        return np.asarray(image.colourspace("srgb").numpy(), np.uint8)
    image = image.copy()
    image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    try:
        # without a depth libvips keeps 16 bits of 16, and the cast below would make all of it white
        converted = image.icc_transform(
            "srgb", embedded=True, intent="relative", black_point_compensation=True, depth=8
        )
        return np.asarray(converted.cast("uchar").numpy(), np.uint8)
    except pyvips.Error:
        return np.asarray(image.colourspace("srgb").numpy(), np.uint8) if bands == 4 else to_srgb(stored, None)
