"""What a file is, told by its first bytes and never by its name, and whether its end was cut off."""

import os
from typing import BinaryIO, Literal

import exifread

ENDINGS: dict[str, frozenset[str]] = {
    "TIFF": frozenset({".tif", ".tiff"}),
    "JPEG": frozenset({".jpg", ".jpeg", ".jpe", ".jfif"}),
    "PNG": frozenset({".png"}),
    "WebP": frozenset({".webp"}),
}
HEAD_BYTES = 16
_TAIL_BYTES = 65536
_ORDERS: dict[bytes, Literal["little", "big"]] = {b"II": "little", b"MM": "big"}


def sniff(head: bytes) -> str:
    """Return "TIFF", "JPEG", "PNG", "WebP", or "" for anything else, from a file's first ``HEAD_BYTES``."""
    if head[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return "TIFF"
    if head[:3] == b"\xff\xd8\xff":
        return "JPEG"
    if head[:8] == b"\x89PNG\r\n\x1a\n":
        return "PNG"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    return ""


def is_cut(file: BinaryIO, file_format: str) -> bool:
    """Return whether a file that does not decode stops before its end mark (JPEG, PNG), length (WebP) or index
    (TIFF)."""
    size = file.seek(0, os.SEEK_END)
    file.seek(max(0, size - _TAIL_BYTES))
    tail = file.read()
    file.seek(0)
    head = file.read(HEAD_BYTES)
    if file_format == "JPEG":
        return b"\xff\xd9" not in tail
    if file_format == "PNG":
        return b"IEND" not in tail
    if file_format == "WebP":
        return int.from_bytes(head[4:8], "little") + 8 > size
    order = _ORDERS.get(head[:2], "little")
    is_big = b"+" in head[2:4]
    index = int.from_bytes(head[8:16] if is_big else head[4:8], order)
    return index >= size or _last_byte(file) > size


def _last_byte(file: BinaryIO) -> int:
    """Where the last strip or tile of a TIFF's first page ends, by its index (TIFF 6.0: tags 273/279 and 324/325)."""
    file.seek(0)
    try:
        tags = exifread.process_file(file, details=False, extract_thumbnail=False)
        for offsets, counts in (("StripOffsets", "StripByteCounts"), ("TileOffsets", "TileByteCounts")):
            if f"Image {offsets}" in tags and f"Image {counts}" in tags:
                pairs = zip(tags[f"Image {offsets}"].values, tags[f"Image {counts}"].values, strict=False)
                return max((int(at) + int(long) for at, long in pairs), default=0)
    except Exception:  # an index that cannot be read says nothing about the length
        return 0
    return 0
