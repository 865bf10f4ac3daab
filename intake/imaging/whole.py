"""Sound pictures that are not streamed. Some libvips holds whole; others it cannot read: JPEG 2000 is decoded by OpenCV
(OpenJPEG), and by Pillow what TIFF holds in 8-bit CIELab or in tiles of separate planes."""

import struct
import warnings
from dataclasses import dataclass
from typing import Any, BinaryIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

_SIZ = b"\xff\x4f\xff\x51"
_FIRST_BYTES = 2**20
# Measured on pictures of 63 and 100 megapixels, three channels; a strip is held once and a little.
_BYTES_PX = {"JPEG": 11, "WebP": 8, "PNG": 5}
_COPIES = 1.4
# OpenJPEG has four bytes for each sample beside what it returns; Pillow a few copies of 8 bits.
_JPEG2000_WORKING, _PILLOW_WORKING = 4.2, 4
_SUPERBOX = b"jp2h"
# Enumerated colour spaces of the colour box that come out as RGB or grey: sRGB, grey, sYCC.
_COLOURS = (16, 17, 18)
# TIFF 6.0. Compression 1 is none.
_WIDTH, _HEIGHT, _BITS_PER_SAMPLE, _COMPRESSION, _ROWS_PER_STRIP, _TILE_WIDTH = 256, 257, 258, 259, 278, 322
# How libvips 8.18 words what its TIFF reader lacks and Pillow has.
_LACKING = ("bad labq format", "tiled separate planes")

# What OpenCV has to say of a damaged file becomes a finding; its own lines would break the run's progress.
cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)


class Unfit(Exception):
    """The picture is stored in a way that is not read here either."""


@dataclass(frozen=True, slots=True)
class Claimed:
    """What the header says. ``bits`` to a sample; ``profile`` is the ICC profile where there is one."""

    width: int
    height: int
    pages: int
    bands: int
    bits: int
    profile: bytes | None

    def held_bytes(self, file_format: str) -> float:
        """Return the memory that decoding takes."""
        working = _JPEG2000_WORKING if file_format == "JPEG 2000" else _PILLOW_WORKING
        return self.width * self.height * self.bands * (working + self.bits / 8)


def held_bytes(image: Any, file_format: str, index: dict[int, int]) -> float:
    """Return the memory that libvips needs for what it cannot let go row by row: all of a WebP, a progressive JPEG or
    an interlaced PNG, and a compressed strip of a TIFF page, whose ``index`` is given."""
    if file_format == "WebP" or "interlaced" in image.get_fields():
        return float(image.width * image.height * _BYTES_PX[file_format])
    if file_format == "TIFF":
        return float(_COPIES * strip_pixels(index) * image.bands * image.get("bits-per-sample") / 8)
    return 0.0


def strip_pixels(index: dict[int, int]) -> int:
    """Return the pixels of a compressed strip of the TIFF page with that ``index``, 0 when it has tiles or is plain."""
    if index.get(_COMPRESSION, 1) == 1 or _TILE_WIDTH in index:
        return 0
    height = index.get(_HEIGHT, 0)
    return index.get(_WIDTH, 0) * min(height, index.get(_ROWS_PER_STRIP, height))


def is_lacking(reason: str) -> bool:
    """Return whether libvips refused a TIFF for something that Pillow reads."""
    return any(words in reason for words in _LACKING)


def claimed(file: BinaryIO, file_format: str, page: int = 0) -> Claimed:
    """Return what the header of a JPEG 2000 or TIFF file claims; nothing is decoded.

    Raises Unfit when that cannot be decoded here, ValueError when the header is damaged.
    """
    return _claimed_by_jpeg2000(file) if file_format == "JPEG 2000" else _claimed_by_tiff(file, page)


def decode(file: BinaryIO, file_format: str, header: Claimed, page: int = 0) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Return the pixels of a page as ``header`` claims them, (h, w, 1 or 3), RGB.

    Raises ValueError when the decoder reports damage.

    JPEG 2000 has no checksums: every decoder sees that one is cut short, none sees changed bytes within (measured).
    """
    file.seek(0)
    if file_format == "JPEG 2000":
        # a file of more bytes than twice its samples is no compressed picture, and is not read further
        most = 2 * header.width * header.height * header.bands * header.bits // 8 + _FIRST_BYTES
        data = np.frombuffer(file.read(most), np.uint8)
        try:
            picture = cv2.imdecode(data, cv2.IMREAD_UNCHANGED)
        except cv2.error as error:
            raise ValueError("OpenJPEG reports an error") from error
        if picture is None:
            raise ValueError("OpenJPEG reports an error")
        return picture[..., None] if picture.ndim == 2 else np.ascontiguousarray(picture[..., ::-1])
    try:
        with warnings.catch_warnings(action="ignore"), Image.open(file, formats=("TIFF",)) as image:
            image.seek(page)
            image.load()
            if image.mode == "LAB":
                lab, own = ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB")
                return np.asarray(ImageCms.profileToProfile(image, lab, own, outputMode="RGB"))
            return np.asarray(image.convert("RGB"))
    except Exception as error:  # Pillow raises many kinds
        raise ValueError(f"Pillow: {error}") from error


def _claimed_by_tiff(file: BinaryIO, page: int) -> Claimed:
    file.seek(0)
    try:
        with warnings.catch_warnings(action="ignore"), Image.open(file, formats=("TIFF",)) as image:
            pages = getattr(image, "n_frames", 1)
            image.seek(page)
            bits = max(getattr(image, "tag_v2", {}).get(_BITS_PER_SAMPLE, (1,)))
            width, height = image.size
            mode, profile = image.mode, image.info.get("icc_profile")
    except Exception as error:
        raise ValueError(f"Pillow: {error}") from error
    # Of 16-bit RGB Pillow keeps 8 bits, which is too little for film.
    if bits != 8 or mode not in ("L", "RGB", "LAB"):
        raise Unfit(f"{mode} of {bits} bits in tiles of separate planes")
    return Claimed(width, height, pages, 1 if mode == "L" else 3, 8, None if mode == "LAB" else profile)


def _claimed_by_jpeg2000(file: BinaryIO) -> Claimed:
    """ISO/IEC 15444-1: boxes (Annex I) lead to the codestream, which begins with SOC and SIZ (Annex A)."""
    file.seek(0)
    start, profile = _codestream(file.read(_FIRST_BYTES))
    file.seek(start)
    head = file.read(_FIRST_BYTES)
    if head[:4] != _SIZ or len(head) < 42:
        raise ValueError("the codestream does not begin with its size")
    right, bottom, left, top = struct.unpack_from(">4I", head, 8)
    (bands,) = struct.unpack_from(">H", head, 40)
    samples = [tuple(head[at : at + 3]) for at in range(42, 42 + 3 * min(bands, 4), 3)]
    if bands not in (1, 3):
        raise Unfit(f"JPEG 2000 of {bands} channels")
    if len(set(samples)) != 1 or samples[0] not in ((7, 1, 1), (15, 1, 1)):
        raise Unfit("JPEG 2000 whose channels are not all of 8 or 16 bits and of full size")
    return Claimed(right - left, bottom - top, 1, bands, samples[0][0] + 1, profile)


def _codestream(head: bytes) -> tuple[int, bytes | None]:
    """Where the codestream begins, and the ICC profile of the colour box. A palette is Unfit."""
    if head[:4] == _SIZ:
        return 0, None
    at, profile = 0, None
    while at + 8 <= len(head):
        size, kind = struct.unpack_from(">I4s", head, at)
        body = at + 8
        if size == 1 and at + 16 <= len(head):
            (size,) = struct.unpack_from(">Q", head, body)
            body = at + 16
        if kind == b"jp2c":
            return body, profile
        if kind == b"pclr":
            raise Unfit("JPEG 2000 with a palette")
        if kind == b"colr" and head[body : body + 1] == b"\x02":
            profile = head[body + 3 : at + size]
        if kind == b"colr" and head[body : body + 1] == b"\x01":
            (colours,) = struct.unpack(">I", head[body + 3 : body + 7].rjust(4, b"\0"))
            if colours not in _COLOURS:
                raise Unfit(f"JPEG 2000 in colour space {colours}")
        if size < body - at and kind != _SUPERBOX:
            break
        at = body if kind == _SUPERBOX else at + size
    raise ValueError("no codestream follows the boxes")
