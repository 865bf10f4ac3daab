"""What a file is, told by its first bytes and never by its name, and whether its end was cut off."""

import os
import struct
from typing import BinaryIO

import exifread

ENDINGS: dict[str, frozenset[str]] = {
    "TIFF": frozenset({".tif", ".tiff"}),
    "JPEG": frozenset({".jpg", ".jpeg", ".jpe", ".jfif"}),
    "PNG": frozenset({".png"}),
    "WebP": frozenset({".webp"}),
    "JPEG 2000": frozenset({".jp2", ".jpf", ".jpx", ".j2k", ".j2c", ".jpc"}),
}
HEAD_BYTES = 16
_TAIL_BYTES = 2**20
_START_OF_SCAN, _MANY_SEGMENTS = 0xDA, 1024
_END_OF_PNG = b"IEND\xaeB`\x82"
# TIFF's types of whole numbers: SHORT and LONG.
_WHOLE = {3: "H", 4: "I"}
# More tags than any page has, or pages than any file: from there on it is no index. Ours.
_MANY_TAGS, _MANY_PAGES = 4096, 256


def sniff(head: bytes) -> str:
    """Return a key of ENDINGS, or "" for anything else, from a file's first ``HEAD_BYTES``."""
    if head[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return "TIFF"
    if head[:3] == b"\xff\xd8\xff":
        return "JPEG"
    if head[:8] == b"\x89PNG\r\n\x1a\n":
        return "PNG"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    # ISO/IEC 15444-1: the signature box of a file, or the SOC and SIZ markers of a bare codestream
    if head[:12] == b"\x00\x00\x00\x0cjP  \r\n\x87\n" or head[:4] == b"\xff\x4f\xff\x51":
        return "JPEG 2000"
    return ""


def lacks_end(file: BinaryIO, file_format: str) -> bool:
    """Return whether a file stops before its end mark (JPEG, PNG, JPEG 2000), the length that it states (WebP) or the
    end of its last index (TIFF)."""
    size = file.seek(0, os.SEEK_END)
    # a preview in the header of a JPEG has an end of its own
    first = _scan_of_jpeg(file) if file_format == "JPEG" else 0
    file.seek(max(first, size - _TAIL_BYTES))
    tail = file.read(_TAIL_BYTES)
    if file_format in ("JPEG", "JPEG 2000"):
        return b"\xff\xd9" not in tail
    if file_format == "PNG":
        return _END_OF_PNG not in tail
    if file_format == "WebP":
        file.seek(0)
        return int.from_bytes(file.read(HEAD_BYTES)[4:8], "little") + 8 > size
    try:
        directories(file, _MANY_PAGES)
    except EOFError:
        return True
    return False


def _scan_of_jpeg(file: BinaryIO) -> int:
    """Where the coded pixels of a JPEG begin (ITU T.81, B.1.1: each segment states its length), 0 if not found."""
    at = 2
    for _ in range(_MANY_SEGMENTS):
        file.seek(at)
        head = file.read(4)
        if len(head) < 4 or head[0] != 0xFF:
            return 0
        at += 2 + int.from_bytes(head[2:4], "big")
        if head[1] == _START_OF_SCAN:
            return at
    return 0


def is_cut(file: BinaryIO, file_format: str) -> bool:
    """Return whether a file that does not decode ``lacks_end``, or is a TIFF that lacks pixels of its first page."""
    if lacks_end(file, file_format):
        return True
    return file_format == "TIFF" and _last_byte(file) > file.seek(0, os.SEEK_END)


def directories(file: BinaryIO, most: int) -> list[dict[int, int]]:
    """Return, for each of at most ``most`` pages of a TIFF, its tags that hold one whole number (TIFF 6.0 section 2).

    Raises EOFError when the file stops before the end of an index.
    """
    file.seek(0)
    head = file.read(HEAD_BYTES).ljust(HEAD_BYTES, b"\0")
    order, big = "<" if head[:2] == b"II" else ">", b"+" in head[2:4]
    offset = struct.Struct(order + ("Q" if big else "I"))
    counter = struct.Struct(order + ("Q" if big else "H"))
    entry = struct.Struct(f"{order}HH{offset.format[1:]}{offset.size}s")
    (at,) = offset.unpack_from(head, 8 if big else 4)
    found: list[dict[int, int]] = []
    seen: set[int] = set()
    while at and at not in seen and len(found) < most:
        seen.add(at)
        (count,) = counter.unpack(_read(file, at, counter.size))
        if count > _MANY_TAGS:
            break
        table = _read(file, at + counter.size, count * entry.size + offset.size)
        tags = {}
        for tag, kind, values, value in entry.iter_unpack(table[: -offset.size]):
            if values == 1 and kind in _WHOLE:
                (tags[tag],) = struct.unpack_from(order + _WHOLE[kind], value)
        found.append(tags)
        (at,) = offset.unpack_from(table, count * entry.size)
    return found


def _read(file: BinaryIO, at: int, size: int) -> bytes:
    if at + size > file.seek(0, os.SEEK_END):
        raise EOFError
    file.seek(at)
    return file.read(size)


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
