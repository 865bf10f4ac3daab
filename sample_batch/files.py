"""Writing scans as a scanning house delivers them: TIFF of 8 or 16 bits, JPEG, CMYK JPEG, and damaged files."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pyvips
from PIL import Image

from sample_batch.page import Pixels
from sample_batch.press import to_inks

MAKE, MODEL_BED, MODEL_STAND = "Ostrelle", "Ostrelle Flatfield 340", "Ostrelle Columna 80"
Form = Literal["jpeg", "cmyk_jpeg", "tiff8", "tiff8_raw", "tiff16_lzw", "tiff16_deflate", "grey8", "grey16"]


@dataclass(frozen=True, slots=True)
class Delivery:
    """The form of one file. ``keep`` < 1 cuts the file off at that fraction.

    ``enlarge`` writes a 16-bit TIFF so many times larger, with fresh noise, strip by strip: full-size files for tests
    of load, without holding them in memory.
    """

    form: Form = "jpeg"
    quality: int = 80
    tagged_ppi: bool = True
    keep: float = 1.0
    taken_at: str = "2026:03:09 09:14:00"
    stand: bool = False
    exif_orientation: int = 1
    enlarge: int = 1


def write_scan(path: Path, pixels: Pixels, ppi: float, delivery: Delivery) -> None:
    """Write ``pixels`` (0..1) to ``path``, making its folder."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if delivery.form.startswith("tiff16") or delivery.form == "grey16":
        _write_deep(path, pixels, ppi, delivery)
    else:
        _write_flat(path, pixels, ppi, delivery)
    if delivery.keep < 1:
        content = path.read_bytes()
        path.write_bytes(content[: int(len(content) * delivery.keep)])


def _write_deep(path: Path, pixels: Pixels, ppi: float, delivery: Delivery) -> None:
    """Write 16 bits whose lowest four are empty, as a twelve-bit converter leaves them."""
    grey = delivery.form == "grey16"
    source = pixels.mean(axis=2) if grey else pixels
    deep = (np.clip(source, 0, 1) * 4095 + 0.5).astype(np.uint16) << 4
    deep = np.ascontiguousarray(deep)
    image = pyvips.Image.new_from_array(deep, interpretation="grey16" if grey else "rgb16")
    if delivery.enlarge > 1:
        large = image.resize(delivery.enlarge, kernel="cubic")
        noise = pyvips.Image.gaussnoise(large.width, large.height, sigma=160, mean=0, seed=1)
        image = (((large + noise) / 16).cast("ushort") * 16).cast("ushort")
    per_mm = ppi * delivery.enlarge / 25.4
    compression = "deflate" if delivery.form.endswith("deflate") or grey else "lzw"
    image.tiffsave(
        str(path), compression=compression, predictor="horizontal", xres=per_mm, yres=per_mm, resunit="inch", strip=True
    )


def _write_flat(path: Path, pixels: Pixels, ppi: float, delivery: Delivery) -> None:
    if delivery.form == "cmyk_jpeg":
        image = Image.fromarray((to_inks(pixels) * 255 + 0.5).astype(np.uint8), "CMYK")
    elif delivery.form == "grey8":
        image = Image.fromarray((pixels.mean(axis=2) * 255 + 0.5).astype(np.uint8), "L")
    else:
        image = Image.fromarray((pixels * 255 + 0.5).astype(np.uint8), "RGB")
    model = MODEL_STAND if delivery.stand else MODEL_BED
    options: dict[str, object] = {"dpi": (ppi, ppi)} if delivery.tagged_ppi else {}
    if delivery.form in ("jpeg", "cmyk_jpeg"):
        exif = Image.Exif()
        exif[0x010F], exif[0x0110], exif[0x0132] = MAKE, model, delivery.taken_at
        if delivery.exif_orientation != 1:
            exif[0x0112] = delivery.exif_orientation
        if delivery.tagged_ppi:
            exif[0x011A] = exif[0x011B] = ppi
            exif[0x0128] = 2
        image.save(path, "JPEG", quality=delivery.quality, exif=exif, **options)
        return
    tags = {271: MAKE, 272: model, 306: delivery.taken_at}
    compression = None if delivery.form == "tiff8_raw" else "tiff_lzw"
    if compression:
        tags[317] = 2
    image.save(path, "TIFF", compression=compression, tiffinfo=tags, **options)
