"""Size of the upright piece from its pixels and a resolution that can be believed (the file's or a ruler's), and the
formats that it may be."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from intake.config.formats import Format
from intake.config.measure import MeasureRules
from intake.model import Box, Checked, Finding, FormatFit, Measured, PartFound, SizeSource

VERSION = 4
MM_PER_INCH = 25.4
WORKING_PX = 2048  # outlines are found on a working image of this long edge at most
Outline = tuple[tuple[float, float], ...]


def measure(
    found: PartFound,
    outline: Outline,
    checked: Checked,
    kind: str,
    rotation: int | None,
    formats: tuple[Format, ...],
    rules: MeasureRules,
) -> Measured:
    """Return the piece's size turned upright by ``rotation`` degrees, and its format when its kind was issued in
    formats. ``rotation`` is None when nothing tells which way it hangs: then its formats are looked for both ways.

    Size is pixels / ppi x 25.4 mm (1 inch is 25.4 mm exactly) between the middles of opposite sides of the outline, or
    of the box when the piece fills it. Without a trusted resolution the size is unknown, and never guessed; so it is
    where the scale is that of a ruler on the piece or against it, as its edge cannot be told from the ruler's.
    """
    if checked.ppi is None:
        return Measured(None, None, "size unknown", "", "size unknown")
    scale = Scale(MM_PER_INCH / checked.ppi, _tag_off(checked.ppi), "resolution tag")
    if checked.ruler is not None:
        if _covered(checked.ruler.box, found.box, outline) > rules.ruler_covered:
            message = (
                "The ruler lies on the piece or against it, so the piece's edge cannot be told from the ruler's. "
                "Lay it a finger's breadth beside the piece, or give one known length."
            )
            way = Finding("measure", "ruler_in_the_way", "attention", message, found.part)
            return Measured(None, None, "size unknown", "", "size unknown", (), (way,))
        scale = Scale(1 / checked.ruler.px_per_mm, checked.ruler.off_share, "ruler in the frame")
    return sized(found.box, outline, scale, kind, rotation, formats, rules)


@dataclass(frozen=True, slots=True)
class Scale:
    """Millimetres a stored pixel, the share that it may be off by, and where it comes from."""

    mm_per_px: float
    off_share: float
    source: SizeSource


def sized(
    box: Box,
    outline: Outline,
    scale: Scale,
    kind: str,
    rotation: int | None,
    formats: tuple[Format, ...],
    rules: MeasureRules,
) -> Measured:
    """Return size, error and formats under a scale, whoever told it (see ``measure``).

    The error adds the scale's, that of finding two edges, and half of what opposite sides differ by, as squares.
    """
    wide_px, high_px = size_px(box, outline)
    wide_apart, high_apart = _sides_apart(outline)
    sides = [(wide_px, wide_apart), (high_px, high_apart)]
    if (rotation or 0) % 180:
        sides.reverse()
    edge_px = rules.edge_px * max(1.0, max(box.width, box.height) / WORKING_PX) * (1 if len(outline) == 4 else 2)
    width_mm, height_mm = (round(px * scale.mm_per_px, 2) for px, _ in sides)
    offs = [
        round(math.hypot(px * scale.off_share, edge_px * math.sqrt(2), apart / 2) * scale.mm_per_px, 2)
        for px, apart in sides
    ]
    made = Measured(width_mm, height_mm, scale.source, "", "no format known", (), (), offs[0], offs[1])
    if kind not in rules.format_kinds:
        return made
    near_mm = max(offs) * 2
    if max(off / size for off, size in zip(offs, (width_mm, height_mm), strict=True)) > rules.clear_share:
        near_mm = max(near_mm, rules.inch_mm)
    found = fit_format(width_mm, height_mm, formats, rules, upright=rotation is not None, near_mm=near_mm)
    return replace(made, format=found[0], format_fit=found[1], candidates=found[2])


def _covered(ruler: Box, box: Box, outline: Outline) -> float:
    """The share of the ruler's ticks that lies within the piece, as far as its outline tells."""
    corners = outline
    if len(outline) != 4:
        right, bottom = box.left + box.width, box.top + box.height
        corners = ((box.left, box.top), (right, box.top), (right, bottom), (box.left, bottom))
    ticks = np.array([(ruler.left, ruler.top), (ruler.left + ruler.width, ruler.top)], np.float32)
    ticks = np.vstack([ticks, ticks[::-1] + np.array((0, ruler.height), np.float32)])
    shared, _ = cv2.intersectConvexConvex(np.array(corners, np.float32), ticks)
    return float(shared) / (ruler.width * ruler.height)


def _tag_off(ppi: float) -> float:
    """The share that a resolution may be off by because its tag was rounded: half of the last digit that it has."""
    for digits in (0, 1):
        for per_unit in (ppi, ppi / 2.54):  # to the inch or to the centimetre
            if abs(per_unit - round(per_unit, digits)) < 0.004:
                return float(0.5 * 10**-digits / per_unit)
    return 0.005 / ppi


def _sides_apart(outline: Outline) -> tuple[float, float]:
    """By how many pixels the upper side differs from the lower one, and the left from the right."""
    if len(outline) != 4:
        return 0.0, 0.0
    a, b, c, d = outline
    return abs(math.dist(a, b) - math.dist(d, c)), abs(math.dist(a, d) - math.dist(b, c))


def size_px(box: Box, outline: Outline) -> tuple[float, float]:
    """Return the width and height, as stored, of the outline (mean of opposite sides) or of the box without one."""
    if len(outline) != 4:
        return float(box.width), float(box.height)
    a, b, c, d = outline
    return (math.dist(a, b) + math.dist(d, c)) / 2, (math.dist(a, d) + math.dist(b, c)) / 2


def fit_format(
    width_mm: float,
    height_mm: float,
    formats: tuple[Format, ...],
    rules: MeasureRules,
    *,
    upright: bool = True,
    near_mm: float = 0.0,
) -> tuple[str, FormatFit, tuple[str, ...]]:
    """Return the best format's id, how it fits, and the ids of all that fit nearly as well, the best first.

    Orientation counts: 762 x 1016 mm upright is one format and lying another, unless it is not known (not ``upright``).
    Among equals the surer row comes first. What misses by up to ``near_mm`` more than the best fits nearly as well.
    """
    if not upright:
        formats = tuple(one.model_copy(update={"orientation": "P or L"}) for one in formats)
    near = max(near_mm, rules.near_share * max(width_mm, height_mm))
    by_miss = sorted((_miss_mm(width_mm, height_mm, one), one.id, one) for one in formats)
    tiers: tuple[FormatFit, ...] = ("fits", "loosely", "off-size")
    for fit in tiers:
        found = [(miss, one) for miss, _, one in by_miss if _holds(fit, miss, width_mm, height_mm, one, rules)]
        if not found:
            continue
        best = found[0][0]
        if near_mm >= rules.inch_mm:
            within = [(miss, one) for miss, _, one in by_miss if miss <= best + near_mm]
            found = [f for f in within if f in found or _holds("off-size", f[0], width_mm, height_mm, f[1], rules)]
        elif fit != "fits":
            found = [(miss, one) for miss, one in found if miss <= best + near]
        found.sort(key=lambda f: (f[0] > best + near, _doubt(f[1]) if f[0] <= best + near else 0, f[0], f[1].id))
        ids = tuple(one.id for _, one in found[: rules.near_formats])
        return ids[0], fit, ids
    return "", "no format known", ()


def _holds(fit: FormatFit, miss_mm: float, width_mm: float, height_mm: float, one: Format, rules: MeasureRules) -> bool:
    if fit == "fits":
        return miss_mm <= one.tol_mm
    if _miss_share(width_mm, height_mm, one) > rules.off_size_share:
        return False
    return fit == "off-size" or miss_mm <= max(rules.loose_least_mm, rules.loose_factor * one.tol_mm)


def _miss_mm(width_mm: float, height_mm: float, one: Format) -> float:
    """The larger of the two edges' errors."""
    upright = max(abs(width_mm - one.w_mm), abs(height_mm - one.h_mm))
    if one.orientation != "P or L":
        return upright
    return min(upright, max(abs(width_mm - one.h_mm), abs(height_mm - one.w_mm)))


def _miss_share(width_mm: float, height_mm: float, one: Format) -> float:
    shares = [max(abs(width_mm - w) / w, abs(height_mm - h) / h) for w, h in _ways(one)]
    return min(shares)


def _ways(one: Format) -> list[tuple[float, float]]:
    return [(one.w_mm, one.h_mm)] + ([(one.h_mm, one.w_mm)] if one.orientation == "P or L" else [])


def _doubt(one: Format) -> int:
    return {"high": 0, "medium": 1, "low": 2}[one.confidence] + (1 if one.source == "memory" else 0)
