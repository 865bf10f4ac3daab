"""The only opener of received files: read-only, bounded before anything is decoded, decoded once."""

import os
import stat
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

import numpy as np
from numpy.typing import NDArray

from intake.config.check import CheckRules
from intake.imaging import whole
from intake.imaging.colour import to_srgb, words
from intake.imaging.container import HEAD_BYTES, directories, lacks_end, sniff
from intake.imaging.decoded import Pixels
from intake.imaging.libvips import pyvips
from intake.imaging.memory import give_back
from intake.imaging.page import Page
from intake.imaging.refusal import Unreadable, bound_pages, bound_size, bound_whole, not_read, refusal
from intake.imaging.tags import Tags, read_tags
from intake.model import Box, Finding, PartFound, PartKey

__all__ = ["Leaf", "Original", "Unreadable", "open_original"]

_MB = 2**20
# TIFF 6.0: in NewSubfileType the lowest bit marks a smaller copy of another page; Compression 6 and 7 are by JPEG.
_SUBFILE, _COMPRESSION = 254, 259
_BY_JPEG = (6, 7)
# libtiff refuses strips of more than 50 MB, as it should; those that may be larger are held against our own bound.
_LARGE_STRIP = 4_000_000
_SIGNED = ("char", "short", "int")


@dataclass(frozen=True, slots=True)
class Leaf:
    """One decoded page of a file: ``number`` counts its pages from 0."""

    number: int
    pixels: Pixels
    profile: bytes | None
    bits: int
    colour: str

    @property
    def whole(self) -> Box:
        """The box of the whole page."""
        height, width, _ = self.pixels.shape
        return Box(0, 0, width, height)


class Original:
    """One received file, decoded. ``troubles`` are findings of the decoder that left something to look at."""

    def __init__(self, file: BinaryIO, rules: CheckRules, scratch: Path) -> None:
        """Take over ``file`` (closed with the original). Raises Unreadable."""
        self._file = file
        self._rules = rules
        self._scratch = scratch
        self.troubles: list[Finding] = []
        self.leaves: list[Leaf] = []
        self._overviews: dict[int, NDArray[Any]] = {}
        self._indexes: list[dict[int, int]] = []
        self.file_format = self._identify()
        self.page_count = self._bound()
        self._decode()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of pixels, temporary files and the original."""
        for leaf in self.leaves:
            leaf.pixels.close()
        self._overviews.clear()
        self._file.close()
        give_back()

    @cached_property
    def tags(self) -> Tags:
        """What the file says of itself."""
        return read_tags(self._file, self.file_format)

    def overview(self, leaf: Leaf) -> NDArray[np.uint8]:
        """Return a page as (h, w, 3) uint8 sRGB, at most ``working_px`` on its long edge."""
        return to_srgb(self._shrunk(leaf, leaf.whole), leaf.profile)

    def read(self, leaf: Leaf, box: Box, longest_px: int | None = None) -> NDArray[np.uint8]:
        """Return ``box`` of a page as (h, w, 3) uint8 sRGB, at most ``longest_px`` on its long edge."""
        return to_srgb(leaf.pixels.read(box, longest_px), leaf.profile)

    def page(self, key: PartKey, found: PartFound) -> Page:
        """Return one part with its working images. It stays usable until the original is closed."""
        leaf = next(one for one in self.leaves if one.number == found.page)
        shrunk = self._shrunk(leaf, found.box)
        deep = None
        if shrunk.dtype == np.uint16 and shrunk.shape[2] in (1, 3):
            deep = np.repeat(shrunk, 3, axis=2) if shrunk.shape[2] == 1 else shrunk
        working = to_srgb(shrunk, leaf.profile)
        scale = max(found.box.width, found.box.height) / max(working.shape[:2])

        def crop(box: Box, longest_px: int | None = None) -> NDArray[np.uint8]:
            return self.read(leaf, box, longest_px)

        return Page(key, found.box, working, deep, scale, leaf.whole, crop)

    def _shrunk(self, leaf: Leaf, box: Box) -> NDArray[Any]:
        if box != leaf.whole:
            return leaf.pixels.read(box, self._rules.working_px)
        if leaf.number not in self._overviews:
            self._overviews[leaf.number] = leaf.pixels.read(box, self._rules.working_px)
        return self._overviews[leaf.number]

    def _identify(self) -> str:
        size = os.fstat(self._file.fileno()).st_size
        if size == 0:
            raise Unreadable("empty_file", "The file is empty (0 bytes). Copy it again from the scanner's disk.")
        if size > self._rules.max_file_mb * _MB:
            raise Unreadable(
                "too_large",
                f"The file is {size / _MB:,.0f} MB, more than the {self._rules.max_file_mb:,} MB allowed. "
                "Raise max_file_mb in config/check.toml if it is sound.",
            )
        found = sniff(self._file.read(HEAD_BYTES))
        if not found:
            raise Unreadable(
                "not_a_picture",
                "By its content this is no TIFF, JPEG, JPEG 2000, PNG or WebP picture, whatever its name says. "
                "Ask for the scan again, as TIFF or JPEG.",
            )
        return found

    def _open(self, page: int, fail_on: str) -> Any:
        self._file.seek(0)
        pyvips.vips_lib.vips_error_clear()  # words on the file before would be read as words on this one
        source = pyvips.Source.new_from_descriptor(self._file.fileno())
        options: dict[str, Any] = {"page": page} if self.file_format == "TIFF" else {}
        if whole.strip_pixels(self._index(page)) > _LARGE_STRIP:
            options["unlimited"] = True
        return pyvips.Image.new_from_source(source, "", access="sequential", fail_on=fail_on, **options)

    def _bound(self) -> int:
        """The pages of the file, when their number and the size of the first are allowed."""
        try:
            if self.file_format == "JPEG 2000":
                header = self._claimed(0)
                width, height, pages = header.width, header.height, header.pages
            else:
                first = self._open(0, "none")
                counted = self.file_format == "TIFF" and "n-pages" in first.get_fields()
                width, height, pages = first.width, first.height, int(first.get("n-pages")) if counted else 1
        except pyvips.Error as error:
            if not whole.is_lacking(str(error)):
                raise refusal(error, self._file, self.file_format) from error
            header = self._claimed(0)
            width, height, pages = header.width, header.height, header.pages
        bound_size(width, height, self._rules)
        bound_pages(pages, self._rules)
        return pages

    def _decode(self) -> None:
        budget = self._rules.memory_mb * _MB
        total = 0.0
        self._indexes = self._read_indexes()
        for number in range(self.page_count):
            if number and self._index(number).get(_SUBFILE, 0) & 1:
                continue
            try:
                leaf = self._decode_page(number, budget)
            except Unreadable as error:
                if self.page_count == 1:
                    raise
                message = f"Page {number + 1} of {self.page_count}: {error}"
                self.troubles.append(Finding("check", error.finding.code, "failure", message))
                continue
            self.leaves.append(leaf)
            budget -= leaf.pixels.held_bytes
            total += leaf.whole.width * leaf.whole.height / 1e6
            if total > self._rules.max_megapixels:
                message = f"Only the first {number + 1} of {self.page_count} pages were decoded. Split the file."
                self.troubles.append(Finding("check", "too_large", "failure", message))
                break
        if not self.leaves:
            raise Unreadable(self.troubles[0].code, self.troubles[0].message)
        if lacks_end(self._file, self.file_format):
            message = "The file stops before its end mark. What was decoded is shown; copy the file again."
            self.troubles.append(Finding("check", "truncated", "failure", message))

    def _read_indexes(self) -> list[dict[int, int]]:
        try:
            return directories(self._file, self.page_count) if self.file_format == "TIFF" else []
        except EOFError:
            return []

    def _index(self, number: int) -> dict[int, int]:
        return self._indexes[number] if number < len(self._indexes) else {}

    def _decode_page(self, number: int, budget: int) -> Leaf:
        """Decode at the strictest level; what fails there only by a warning is kept and named.

        Of the levels of libvips only "warning" sees damage in the middle of a JPEG or of a compressed tile (measured).
        """
        if self.file_format == "JPEG 2000":
            return self._decode_whole(number, budget)
        image = None
        try:
            image = self._open(number, "warning")
            bound_size(image.width, image.height, self._rules)
            bound_whole(whole.held_bytes(image, self.file_format, self._index(number)), self.file_format, self._rules)
            return self._leaf(number, image, budget)
        except pyvips.Error as error:
            in_header = image is None
            # first comes what pyvips was about; libvips has no words of its own on libtiff's warnings
            wordless = not "".join(str(error).splitlines()[1:]).strip()
        try:
            image = self._open(number, "error")
            bound_size(image.width, image.height, self._rules)
            bound_whole(whole.held_bytes(image, self.file_format, self._index(number)), self.file_format, self._rules)
            leaf = self._leaf(number, image, budget)
        except pyvips.Error as error:
            if whole.is_lacking(str(error)):
                return self._decode_whole(number, budget)
            raise refusal(error, self._file, self.file_format) from error
        # libtiff warns of tags alone, but where JPEG inside a TIFF is damaged
        by_jpeg = self._index(number).get(_COMPRESSION, _BY_JPEG[0]) in _BY_JPEG
        if in_header or (self.file_format == "TIFF" and wordless and not by_jpeg):
            self.troubles.append(
                Finding("check", "odd_tags", "note", "The decoder warns of odd tags; the pixels decode. Nothing to do.")
            )
        else:
            message = "The decoder reports damage inside the picture: parts of it may be wrong. Copy or scan it again."
            self.troubles.append(Finding("check", "damaged", "failure", message))
        return leaf

    def _claimed(self, number: int) -> whole.Claimed:
        try:
            return whole.claimed(self._file, self.file_format, number)
        except whole.Unfit as error:
            raise not_read(str(error), self.file_format) from error
        except ValueError as error:
            raise refusal(error, self._file, self.file_format) from error

    def _decode_whole(self, number: int, budget: int) -> Leaf:
        header = self._claimed(number)
        bound_size(header.width, header.height, self._rules)
        bound_whole(header.held_bytes(self.file_format), self.file_format, self._rules)
        try:
            pixels = whole.decode(self._file, self.file_format, header, number)
        except ValueError as error:
            raise refusal(error, self._file, self.file_format) from error
        height, width, bands = pixels.shape
        deep = pixels.dtype == np.uint16
        kind = ("grey16" if deep else "b-w") if bands == 1 else ("rgb16" if deep else "srgb")
        image = pyvips.Image.new_from_memory(pixels, width, height, bands, "ushort" if deep else "uchar")
        image = image.copy(interpretation=kind)
        return Leaf(number, Pixels(image, budget, self._scratch), header.profile, header.bits, words(image))

    def _leaf(self, number: int, image: Any, budget: int) -> Leaf:
        if image.format in _SIGNED and image.interpretation != "labs":
            raise not_read(f"signed samples ({image.format})", self.file_format)
        fields = image.get_fields()
        profile = image.get("icc-profile-data") if "icc-profile-data" in fields else None
        bits = (
            image.get("bits-per-sample")
            if "bits-per-sample" in fields
            else {"uchar": 8, "ushort": 16}.get(image.format, 32)
        )
        colour = words(image)
        return Leaf(number, Pixels(image, budget, self._scratch), profile, int(bits), colour)


def open_original(path: Path, rules: CheckRules, scratch: Path) -> Original:
    """Open and decode a received file; temporary files go to ``scratch``. Raises Unreadable."""
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        message = f"The file cannot be opened ({error.strerror}). See that it is there and may be read."
        raise Unreadable("unreadable", message) from error
    # Unbuffered: libvips moves the place in the file, of which a buffer would not know.
    file = os.fdopen(descriptor, "rb", buffering=0)
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise Unreadable("unreadable", "This is no regular file. Only pictures are read.")
        return Original(file, rules, scratch)
    except BaseException:
        file.close()
        give_back()
        raise
