"""Why a file is not looked at: the bounds that are held against its header, and what a decoder's error means."""

from typing import BinaryIO

from intake.config.check import CheckRules
from intake.imaging.container import is_cut
from intake.model import Finding, Severity

# Of libvips' words on what it cannot decode though it may be sound.
_NOT_READ = (
    "not supported",
    "not configured",
    "not a whole number of bytes",
    "required field",
    "bad labq format",
    "byte limit",
)


class Unreadable(Exception):
    """A file in which nothing can be looked at; ``finding`` says why, and what to do."""

    def __init__(self, code: str, message: str, severity: Severity = "failure") -> None:
        super().__init__(message)
        self.finding = Finding("check", code, severity, message)


def bound_size(width: int, height: int, rules: CheckRules) -> None:
    """Raise Unreadable when a page claims more pixels than are allowed, or too few to show anything."""
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


def bound_pages(pages: int, rules: CheckRules) -> None:
    """Raise Unreadable when a file has more pages than are allowed."""
    if pages > rules.max_pages:
        raise Unreadable(
            "too_large",
            f"The file has {pages} pages, more than the {rules.max_pages} allowed. Split it, and scan again.",
        )


def bound_whole(held_bytes: float, file_format: str, rules: CheckRules) -> None:
    """Raise Unreadable when what cannot be decoded in a stream would take more memory than is allowed."""
    if held_bytes > rules.whole_mb * 2**20:
        raise Unreadable(
            "too_large",
            f"As it is stored, this {file_format} file has to be decoded at once, in {held_bytes / 2**20:,.0f} MB of "
            f"memory; {rules.whole_mb:,} are allowed. Save it as TIFF in strips or tiles, or raise whole_mb in "
            "config/check.toml.",
        )


def refusal(error: Exception, file: BinaryIO, file_format: str) -> Unreadable:
    """Return why a file whose decoder raised ``error`` cannot be looked at."""
    lines = ("".join(c if c.isprintable() else " " for c in line) for line in str(error).splitlines())
    reason = " ".join(" ".join(dict.fromkeys(lines)).split())[:200]
    if any(words in reason for words in _NOT_READ):
        return not_read(reason, file_format)
    if is_cut(file, file_format) or "premature end" in reason:
        return Unreadable(
            "truncated", "The file stops before its end, as after a broken copy. Copy it again, or scan again."
        )
    return Unreadable("damaged", f"The {file_format} file does not decode ({reason}). Copy it again, or scan again.")


def not_read(reason: str, file_format: str) -> Unreadable:
    """Return the refusal of a file that may be sound but is stored in a way that is not read."""
    return Unreadable(
        "not_supported",
        f"This {file_format} file is stored in a way that is not read here ({reason}). It may be sound: "
        "save it anew as plain TIFF of 8 or 16 bits, and keep the first.",
    )
