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
from intake.imaging.colour import to_srgb, words
from intake.imaging.container import HEAD_BYTES, is_cut, sniff
from intake.imaging.decoded import Pixels
from intake.imaging.libvips import pyvips
from intake.imaging.page import Page
from intake.imaging.tags import Tags, read_tags
from intake.model import Box, Finding, PartFound, PartKey, Severity

_MB = 2**20


class Unreadable(Exception):
    """A file in which nothing can be looked at; ``finding`` says why, and what to do."""

    def __init__(self, code: str, message: str, severity: Severity = "failure") -> None:
        super().__init__(message)
        self.finding = Finding("check", code, severity, message)


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
                "By its content this is no TIFF, JPEG, PNG or WebP picture, whatever its name says. "
                "Ask for the scan again, as TIFF or JPEG.",
            )
        return found

    def _open(self, page: int, fail_on: str) -> Any:
        self._file.seek(0)
        source = pyvips.Source.new_from_descriptor(self._file.fileno())
        options: dict[str, Any] = {"page": page} if self.file_format == "TIFF" else {}
        return pyvips.Image.new_from_source(source, "", access="sequential", fail_on=fail_on, **options)

    def _bound(self) -> int:
        try:
            first = self._open(0, "none")
        except pyvips.Error as error:
            raise self._refusal(error) from error
        pages = first.get("n-pages") if self.file_format == "TIFF" and "n-pages" in first.get_fields() else 1
        if pages > self._rules.max_pages:
            raise Unreadable(
                "too_large",
                f"The file has {pages} pages, more than the {self._rules.max_pages} allowed. Split it, and scan again.",
            )
        self._bound_size(first)
        return int(pages)

    def _bound_size(self, image: Any) -> None:
        rules, width, height = self._rules, image.width, image.height
        if width * height > rules.max_megapixels * 1e6 or max(width, height) > rules.max_edge_px:
            raise Unreadable(
                "too_large",
                f"The file claims {width:,} x {height:,} pixels; {rules.max_megapixels:,.0f} megapixels and "
                f"{rules.max_edge_px:,} pixels on an edge are allowed. It was not decoded. Raise the bound in "
                "config/check.toml if it is sound.",
            )
        if min(width, height) < rules.min_edge_px:
            raise Unreadable(
                "not_a_picture", f"{width:,} x {height:,} pixels are too few to show a piece. Ask for the scan itself."
            )

    def _decode(self) -> None:
        refusal: Unreadable | None = None
        budget = self._rules.memory_mb * _MB
        total = 0.0
        for number in range(self.page_count):
            try:
                leaf = self._decode_page(number, budget)
            except Unreadable as error:
                refusal = refusal or error
                if self.page_count > 1:
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
        if not self.leaves and refusal is not None:
            raise refusal

    def _decode_page(self, number: int, budget: int) -> Leaf:
        """Decode at the strictest level; what fails there only by a warning is kept and named.

        Of the levels of libvips only "warning" sees damage in the middle of a JPEG or of a compressed tile (measured).
        """
        image = None
        try:
            image = self._open(number, "warning")
            self._bound_size(image)
            return self._leaf(number, image, budget)
        except pyvips.Error:
            in_header = image is None
        try:
            leaf = self._leaf(number, self._open(number, "error"), budget)
        except pyvips.Error as error:
            raise self._refusal(error) from error
        if in_header:
            self.troubles.append(
                Finding("check", "odd_tags", "note", "The decoder warns of odd tags; the pixels decode. Nothing to do.")
            )
        else:
            message = "The decoder reports damage inside the picture: parts of it may be wrong. Copy or scan it again."
            self.troubles.append(Finding("check", "damaged", "failure", message))
        return leaf

    def _leaf(self, number: int, image: Any, budget: int) -> Leaf:
        fields = image.get_fields()
        profile = image.get("icc-profile-data") if "icc-profile-data" in fields else None
        bits = (
            image.get("bits-per-sample")
            if "bits-per-sample" in fields
            else {"uchar": 8, "ushort": 16}.get(image.format, 32)
        )
        colour = words(image)
        return Leaf(number, Pixels(image, budget, self._scratch), profile, int(bits), colour)

    def _refusal(self, error: Exception) -> Unreadable:
        reason = " ".join("".join(c if c.isprintable() else " " for c in str(error)).split())[:200]
        if is_cut(self._file, self.file_format) or "premature end" in reason:
            return Unreadable(
                "truncated", "The file stops before its end, as after a broken copy. Copy it again, or scan again."
            )
        return Unreadable(
            "damaged", f"The {self.file_format} file does not decode ({reason}). Copy it again, or scan again."
        )


def open_original(path: Path, rules: CheckRules, scratch: Path) -> Original:
    """Open and decode a received file; temporary files go to ``scratch``. Raises Unreadable."""
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        message = f"The file cannot be opened ({error.strerror}). See that it is there and may be read."
        raise Unreadable("unreadable", message) from error
    file = os.fdopen(descriptor, "rb")
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise Unreadable("unreadable", "This is no regular file. Only pictures are read.")
        return Original(file, rules, scratch)
    except BaseException:
        file.close()
        raise
