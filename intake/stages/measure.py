"""Size of the upright piece from its pixels and a resolution that can be believed, and the formats that it may be."""

import math

from intake.config.formats import Format
from intake.config.measure import MeasureRules
from intake.model import Box, Checked, FormatFit, Measured

VERSION = 2
MM_PER_INCH = 25.4
Outline = tuple[tuple[float, float], ...]


def measure(
    box: Box,
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
    of
    the box when the piece fills it. Without a trusted resolution the size is unknown, and never guessed.
    """
    if checked.ppi is None:
        return Measured(None, None, "size unknown", "", "size unknown")
    wide_px, high_px = size_px(box, outline)
    if (rotation or 0) % 180:
        wide_px, high_px = high_px, wide_px
    width_mm, height_mm = (round(px / checked.ppi * MM_PER_INCH, 2) for px in (wide_px, high_px))
    if kind not in rules.format_kinds:
        return Measured(width_mm, height_mm, "resolution tag", "", "no format known")
    name, fit, candidates = fit_format(width_mm, height_mm, formats, rules, upright=rotation is not None)
    return Measured(width_mm, height_mm, "resolution tag", name, fit, candidates)


def size_px(box: Box, outline: Outline) -> tuple[float, float]:
    """Return the width and height, as stored, of the outline (mean of opposite sides) or of the box without one."""
    if len(outline) != 4:
        return float(box.width), float(box.height)
    a, b, c, d = outline
    return (math.dist(a, b) + math.dist(d, c)) / 2, (math.dist(a, d) + math.dist(b, c)) / 2


def fit_format(
    width_mm: float, height_mm: float, formats: tuple[Format, ...], rules: MeasureRules, *, upright: bool = True
) -> tuple[str, FormatFit, tuple[str, ...]]:
    """Return the best format's id, how it fits, and the ids of all that fit nearly as well, the best first.

    Orientation counts: 762 x 1016 mm upright is one format and lying another, unless it is not known (not ``upright``).
    Among equals the surer row comes first.
    """
    if not upright:
        formats = tuple(one.model_copy(update={"orientation": "P or L"}) for one in formats)
    near = rules.near_share * max(width_mm, height_mm)
    by_miss = sorted((_miss_mm(width_mm, height_mm, one), one.id, one) for one in formats)
    tiers: tuple[FormatFit, ...] = ("fits", "loosely", "off-size")
    for fit in tiers:
        found = [(miss, one) for miss, _, one in by_miss if _holds(fit, miss, width_mm, height_mm, one, rules)]
        if not found:
            continue
        best = found[0][0]
        if fit != "fits":
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
