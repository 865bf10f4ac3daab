"""Arrival check: what a received file is, what is wrong with it, and which pieces' pictures are on it."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.check import CheckRules
from intake.imaging.bed import find_bed, not_bed
from intake.imaging.container import ENDINGS
from intake.imaging.focus import sharpest_edge_px
from intake.imaging.levels import largest, smallest
from intake.imaging.original import Leaf, Original, Unreadable
from intake.imaging.outline import find_things
from intake.imaging.pieces import find_pieces
from intake.imaging.ruler import find_rulers
from intake.imaging.tags import Tags
from intake.model import Box, Checked, Finding, PartFound, Ruler, Severity

VERSION = 5
_LOOK_PX = 1024


def check(path: Path, original: Original, rules: CheckRules) -> Checked:
    """Return what the arrival check saw of a decoded file. ``path`` gives only the ending that its content is held
    against."""
    first = original.leaves[0]
    tags = original.tags
    findings = [*original.troubles, *_about_name(path, original.file_format)]
    ppi, ppi_words = _trusted_ppi(tags, rules)
    ruler = _ruler(original, rules) if ppi is None else None
    if ruler is not None:
        ppi = 25.4 * ruler.px_per_mm
        ppi_words = (
            f"{ppi:.1f} ppi by a ruler in the frame ({ruler.ticks} ticks, taken for {ruler.graduation}, good to "
            f"{ruler.off_share:.1%}); of the file: {ppi_words}"
        )
    if ppi is None:
        message = f"Size unknown: {ppi_words}. Give one known length of this piece, or scan with the resolution stored."
        findings.append(_finding("no_resolution", "attention", message))
    if tags.odd:
        findings.append(_finding("odd_tags", "note", f"Odd tags: {tags.odd}. Nothing to do; the tags are ignored."))
    if original.page_count > 1:
        message = f"The file has {original.page_count} pages; each is taken as a picture of its own."
        findings.append(_finding("multi_page", "note", message))
    parts: list[PartFound] = []
    sharpness: list[float] = []
    for leaf in original.leaves:
        boxes = find_pieces(original.overview(leaf), leaf.whole, rules)
        first_part = len(parts) + 1
        parts += [PartFound(first_part + n, leaf.number, box) for n, box in enumerate(boxes)]
        sharp, seen = _look(original, leaf, first_part, rules)
        sharpness.append(sharp)
        findings += seen
    whole: Box = first.whole
    return Checked(
        width_px=whole.width,
        height_px=whole.height,
        pages=original.page_count,
        bits=first.bits,
        colour=first.colour,
        file_format=original.file_format,
        ppi=ppi,
        ppi_words=ppi_words,
        exif_orientation=tags.orientation,
        file_source=tags.file_source,
        scanner=tags.scanner,
        scanned_at=tags.scanned_at,
        sharpness=min(sharpness),
        parts=tuple(parts),
        findings=tuple(findings),
        ruler=ruler,
    )


def refused(path: Path, error: Unreadable) -> Checked:
    """Return the check of a file in which nothing can be looked at: no parts, and the finding that says why."""
    return Checked(
        width_px=0,
        height_px=0,
        pages=0,
        bits=0,
        colour="",
        file_format=path.suffix.lstrip(".").upper()[:8],
        ppi=None,
        ppi_words="not read",
        exif_orientation=1,
        file_source=None,
        scanner="",
        scanned_at="",
        sharpness=0.0,
        parts=(),
        findings=(error.finding,),
    )


def _finding(code: str, severity: Severity, message: str, part: int = 0) -> Finding:
    return Finding("check", code, severity, message, part)


def _about_name(path: Path, file_format: str) -> list[Finding]:
    ending = path.suffix.lower()
    if ending in ENDINGS[file_format]:
        return []
    named = f"ends in {ending}" if ending else "has no ending"
    message = f"The name {named}, but by its content this is a {file_format} file. It was read as what it is."
    return [_finding("wrong_ending", "note", message)]


def _trusted_ppi(tags: Tags, rules: CheckRules) -> tuple[float | None, str]:
    """The resolution if it can be believed, and words on where it comes from or why not."""
    ppi, words = tags.resolution.ppi, tags.resolution.words
    if ppi is None:
        return None, words
    if any(abs(ppi - default) < 0.5 for default in rules.default_ppi):
        return None, f"{words}, which is what programs write when they do not know"
    if not rules.min_ppi <= ppi <= rules.max_ppi:
        return None, f"{words}, which no scanner delivers"
    return ppi, words


def _ruler(original: Original, rules: CheckRules) -> Ruler | None:
    """The ruler in the frame; None without one, where two do not agree, or where there are several pages: each may have
    a resolution of its own."""
    if original.page_count > 1:
        return None
    leaf = original.leaves[0]
    found = find_rulers(
        original.overview(leaf), leaf.whole, lambda box, px: original.read(leaf, box, px), rules.ruler
    )  # fmt: skip
    scales = [r.px_per_mm for r in found if rules.min_ppi <= 25.4 * r.px_per_mm <= rules.max_ppi]
    if not scales or max(scales) > (1 + rules.ruler.agree_share) * min(scales):
        return None
    return next(r for r in found if r.px_per_mm == scales[0])


def _look(original: Original, leaf: Leaf, part: int, rules: CheckRules) -> tuple[float, list[Finding]]:
    """Sharpness (1 = the finest edge that pixels can hold, towards 0 = soft or without any edge) and what is wrong."""
    overview = original.overview(leaf)
    scale = max(1.0, max(overview.shape[:2]) / _LOOK_PX)
    size = (max(1, round(overview.shape[1] / scale)), max(1, round(overview.shape[0] / scale)))
    small = np.asarray(cv2.resize(overview, size, interpolation=cv2.INTER_AREA), np.uint8)
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.uint8)
    if _is_blank(small, grey, rules):
        message = "Nothing but an even tone is on this scan. See whether the piece lay face up, and scan it again."
        return 0.0, [_finding("blank", "attention", message, part)]
    found = []
    width = sharpest_edge_px(grey, leaf.whole.width / size[0], lambda box: original.read(leaf, box), leaf.whole)
    if width is None or width > rules.soft_edge_px:
        seen = "no edge is steep enough to measure" if width is None else f"the finest edge is {width:.1f} pixels soft"
        message = f"Out of focus: {seen}. Clean the glass, set the focus, and scan it again."
        found.append(_finding("out_of_focus", "attention", message, part))
    clipped = _clipped(overview)
    if clipped > rules.clipped_share:
        message = f"{clipped:.0%} of the picture is pure black or white: tones are lost. Scan again with less contrast."
        found.append(_finding("clipped", "note", message, part))
    # the seventh digit depends on where in memory the tiles came to lie (seen), and a result must not
    return (0.0 if width is None else round(1.0 / (1.0 + width), 4)), found


def _is_blank(small: NDArray[np.uint8], grey: NDArray[np.uint8], rules: CheckRules) -> bool:
    """Whether nothing stands out but perhaps the edge of an empty paper on the bed."""
    detail = cv2.absdiff(grey, cv2.blur(grey, (25, 25))) > rules.detail_levels
    bed = find_bed(small, rules.bed_share, rules.bed_levels)
    if bed is not None:
        things = find_things(not_bed(small, bed, rules.bed_levels), rules.piece_min_share * grey.size)
        inside = np.zeros(grey.shape, np.uint8)
        for thing in things:
            cv2.fillPoly(inside, [thing.contour], 1)
        detail &= cv2.erode(inside, np.ones((31, 31), np.uint8), borderValue=0) > 0
    return float(detail.mean()) < rules.blank_share


def _clipped(overview: NDArray[np.uint8]) -> float:
    """Share of pixels of the middle of the page that are pure black or white."""
    tall, wide = overview.shape[0] // 10, overview.shape[1] // 10
    inner = overview[tall : overview.shape[0] - tall : 2, wide : overview.shape[1] - wide : 2]
    return float(((smallest(inner) == 255) | (largest(inner) == 0)).mean())
