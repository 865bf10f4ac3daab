"""Where a piece was folded, and by how much it lies askew on the scan."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from intake.config.fold import FoldRules, Lines
from intake.imaging.broken import Broken, band, beside_rule, broken
from intake.imaging.creases import Trace, log_tone, traces
from intake.imaging.flat import flatten
from intake.imaging.outline import Corners
from intake.imaging.page import Page
from intake.imaging.skew import skew_of_lines, skew_of_outline
from intake.model import Checked, Classified, Finding, Folded, FoldLine, Rendered

VERSION = 3
MM_PER_INCH = 25.4
_FLAT_PX, _FLAT_PER_MM = 2048, 2.0
Axis = Literal["x", "y"]


@dataclass(frozen=True, slots=True)
class Ink:
    """How the ink is broken along a line, and beside the white rule where one is printed along it."""

    on: Broken
    beside: Broken | None = None


@dataclass(frozen=True, slots=True)
class Pattern:
    """Lines at equal parts of one edge: the trace of each, None where it was not seen, and their log-odds together."""

    axis: Axis
    through: bool
    lines: tuple[tuple[float, Trace | None], ...]
    odds: float


def fold(page: Page, rendered: Rendered, classified: Classified, checked: Checked, rules: FoldRules) -> Folded:
    """Return skew and fold lines. Only kinds that are folded are looked at, and no negative."""
    corners = _corners(rendered)
    if rendered.outline:
        skew = skew_of_outline(corners, rules.skew_most_deg)
    else:
        skew = skew_of_lines(page.working, rules.skew_most_deg)
    if classified.kind not in rules.kinds or classified.polarity == "negative":
        return Folded(skew)
    long_px = max(math.dist(corners[0], corners[1]), math.dist(corners[0], corners[3]))
    per_mm = checked.ppi / MM_PER_INCH if checked.ppi else long_px / rules.unknown_long_mm
    flat, _ = flatten(
        page.working,
        (corners - (page.box.left, page.box.top)) / page.stored_per_working,
        min(_FLAT_PX, max(1, round(long_px / per_mm * _FLAT_PER_MM))),
    )
    flat_per_mm = max(flat.shape[:2]) / (long_px / per_mm)
    found = look(log_tone(flat), flat_per_mm, rules)
    paper = float(np.percentile(cv2.cvtColor(flat, cv2.COLOR_RGB2GRAY)[::4, ::4], rules.paper_percent))
    seen = [[(p, _ink(page, corners, p, per_mm, paper, rules)) for p in ways] for ways in found]
    lines = tuple(line for p, inks in _told(seen, rules) for line in _lines(p, inks, corners, rules))
    findings: tuple[Finding, ...] = ()
    if any(line.printed for line in lines):
        findings = (Finding("fold", "printed_folds", "attention", rules.printed_words, page.key.part),)
    return Folded(skew, True, lines, findings)


def look(tone: np.ndarray, per_mm: float, rules: FoldRules) -> list[list[Pattern]]:
    """Return what is not unlikely in each direction: lines through the whole sheet, then lines that end anywhere."""
    found = []
    axes: tuple[tuple[Axis, np.ndarray], ...] = (("x", tone), ("y", np.ascontiguousarray(tone.T)))
    for axis, view in axes:
        edge_mm = view.shape[1] / per_mm
        seen = traces(view, per_mm)
        ways = [_pattern(axis, seen, edge_mm, through, rules) for through in (True, False)]
        found.append([way for way in ways if way is not None])
    return found


def _pattern(axis: Axis, seen: Sequence[Trace], edge_mm: float, through: bool, rules: FoldRules) -> Pattern | None:
    """The likeliest way of folding, each of its lines weighed where one was seen near its place; None for none."""
    reach = max(rules.place_mm / edge_mm, rules.place_share)
    best: Pattern | None = None
    for panels in rules.panels:
        lines, odds = [], rules.folded
        for number in range(1, panels):
            near = [t for t in seen if abs(t.at - number / panels) <= reach]
            said, trace = max(
                ((weigh(t, rules.through if through else rules.inside), t) for t in near),
                key=lambda s: (s[0], s[1].alike),
                default=(rules.missing, None),
            )
            if said < rules.missing:
                said, trace = rules.missing, None
            lines.append((number / panels, trace))
            odds += said
        if odds > rules.faint and (best is None or odds > best.odds):
            best = Pattern(axis, through, tuple(lines), odds)
    return best


def weigh(trace: Trace, lines: Lines) -> float:
    """Log-odds that a line is a fold's, beyond those of any line."""
    measures = trace.measures
    said = lines.start + sum(weight * measures[name] for name, weight in lines.weights.items())
    return min(said - lines.chance, lines.most)


def _ink(
    page: Page, corners: Corners, pattern: Pattern, per_mm: float, paper: float, rules: FoldRules
) -> list[Ink | None]:
    made: list[Ink | None] = []
    for at, trace in pattern.lines:
        start, end = _ends(corners, pattern.axis, trace.at if trace else at)
        try:
            laid, scale = band(start, end, per_mm, page.crop)
        except ValueError:
            made.append(None)
            continue
        on = broken(laid, scale, paper)
        without = beside_rule(laid, scale, paper) if on.open > rules.ink.most_open else None
        made.append(Ink(on, None if without is None else broken(without, scale, paper)))
    return made


def _tells(ink: Broken | None, rules: FoldRules) -> float | None:
    """Log-odds that ink is broken; None where there is too little ground to tell, or a white line is printed there."""
    if ink is None or ink.length < rules.ink.least_length or ink.open > rules.ink.most_open:
        return None
    weighed = rules.ink.bare * max(0.0, ink.bare) + rules.ink.width_mm * ink.width_mm + rules.ink.fine * ink.fine
    said = rules.ink.start + weighed
    return max(-rules.ink.most, min(rules.ink.most, said))


def _said(inks: Sequence[Ink | None], rules: FoldRules) -> list[float]:
    """What the ink of each line says, as far as it tells."""
    return [s for s in (_tells(i.on, rules) for i in inks if i) if s is not None]


def _is_white(ink: Ink | None, rules: FoldRules) -> bool:
    """Is the line white all along, as a printed rule is?"""
    return ink is not None and ink.on.open > rules.ink.most_open


def _told(
    seen: Sequence[Sequence[tuple[Pattern, list[Ink | None]]]], rules: FoldRules
) -> list[tuple[Pattern, list[tuple[Ink | None, bool]]]]:
    """Choose the way of each direction, and say of all lines of a sheet together whether they are printed in.

    Broken ink adds to what the shading says. Lines that end with the picture are printed, or something else where the
    ink is broken; lines of which the ink tells nothing are folds only if they run through the rims. Where all lines lie
    under white rules they are folds if ink is broken beside those; else it stays open what they are, and none is told.
    """
    chosen = [one for ways in seen for one in [next((w for w in ways if _holds(*w, rules)), None)] if one]
    said = [s for _, inks in chosen for s in _said(inks, rules)]
    is_printed = bool(said) and float(np.mean(said)) < rules.ink.printed
    every = [ink for _, inks in chosen for ink in inks]
    if not said and every and all(_is_white(ink, rules) for ink in every):
        seen_beside = [i.beside for i in every if i and i.beside and i.beside.bare >= rules.ink.beside_bare]
        beside = [s for s in (_tells(ink, rules) for ink in seen_beside) if s is not None]
        if not beside or float(np.mean(beside)) < 0:
            return []
    return [
        (pattern, [(ink, is_printed) for ink in inks])
        for pattern, inks in chosen
        if pattern.through or is_printed or not _held_in(pattern)
    ]


def _holds(pattern: Pattern, inks: list[Ink | None], rules: FoldRules) -> bool:
    """Is there enough for the pattern?"""
    said = _said(inks, rules)
    ink = float(np.mean(said)) if said else 0.0
    odds = pattern.odds + max(ink, 0.0)
    if all(_is_white(i, rules) for i in inks):
        return pattern.through and odds > rules.white_least
    if pattern.through:
        return odds > 0
    return odds > (rules.inside_least if ink < rules.ink.broken else 0.0) and bool(said)


def _held_in(pattern: Pattern) -> bool:
    return 2 * sum(t is not None and t.is_held_in for _, t in pattern.lines) > len(pattern.lines)


def _lines(
    pattern: Pattern, inks: Sequence[tuple[Ink | None, bool]], corners: Corners, rules: FoldRules
) -> list[FoldLine]:
    made = []
    for (place, trace), (ink, is_printed) in zip(pattern.lines, inks, strict=True):
        at = trace.at if trace else place
        start, end = _ends(corners, pattern.axis, at)
        made.append(
            FoldLine(
                pattern.axis,
                round(at, 4),
                (round(float(start[0]), 1), round(float(start[1]), 1)),
                (round(float(end[0]), 1), round(float(end[1]), 1)),
                round(1 / (1 + math.exp(-pattern.odds)), 3),
                is_printed,
                _words(trace, ink, pattern.through, is_printed, rules),
            )
        )
    return made


def _words(trace: Trace | None, ink: Ink | None, through: bool, is_printed: bool, rules: FoldRules) -> str:
    said = []
    if trace is None:
        said.append("follows from the other lines; not seen by itself")
    else:
        where = "from edge to edge" if through else "in the picture"
        said.append(f"shading runs {where}, alike by {100 * max(0.0, trace.alike):.0f} % all along")
    seen, place = (None, "") if ink is None else (ink.on, "along most of it")
    if ink is not None and _is_white(ink, rules):
        said.append("white all along, as a printed rule is")
        seen, place = ink.beside, "beside that"
    if seen is not None and seen.length > 0:
        share = 100 * min(1.0, max(0.0, seen.bare))
        state = "ink is not broken:" if is_printed else "ink is broken to"
        said.append(f"{state} {share:.0f} % of bare paper {place}, {seen.width_mm:.1f} mm soft")
    return "; ".join(said)


def _corners(rendered: Rendered) -> Corners:
    if len(rendered.outline) == 4:
        return np.array(rendered.outline, np.float64)
    left, top, width, height = rendered.box
    right, bottom = left + width, top + height
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float64)


def _ends(corners: Corners, axis: Axis, at: float) -> tuple[np.ndarray, np.ndarray]:
    """Where a line at the share ``at`` begins and ends."""
    a, b, c, d = corners
    return (a + (b - a) * at, d + (c - d) * at) if axis == "x" else (a + (d - a) * at, b + (c - b) * at)
