"""What differs between two pictures of one design: covered, added, pasted, scaled, moved, redrawn, other lettering.

The two are laid over one another by their match, then by a slow bend. A place differs where the structure of one is not
told by the other, whatever became of its tones (imaging/structure.py), beyond what noise, tones that a film or print
does not hold, and another hand leave on this very pair. Elements that follow a similarity of their own are told first;
the rest is named by what lies there on either side.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from difflib import SequenceMatcher

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import DifferRules
from intake.imaging.beyond import shown_beyond
from intake.imaging.geometry import Matrix, Points, apply
from intake.imaging.lettering import Line
from intake.imaging.overlaid import patched, stripped
from intake.imaging.overlay import carried, flow, lay
from intake.imaging.own_way import went_their_way
from intake.imaging.patches import even_within, evenness
from intake.imaging.regions import MEASURES, Found, components, corners_of, measures, slivers, tight
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import (
    Floats,
    FrameBox,
    Ground,
    Mask,
    box_of,
    scores_with,
    set_side_by_side,
    whole_cells,
)
from intake.imaging.worded import worded
from intake.kin import Difference, DifferenceKind, Differences
from intake.model import Box, PartKey
from intake.ocr.text import clean, squeeze

VERSION = 7


@dataclass(frozen=True, slots=True)
class Lettering:
    """A line that was read: its text and the four corners in pixels of its picture."""

    text: str
    corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One of the two: (h, w, 3) RGB, its lines, and what leads from its pixels to stored ones (scale, left, top)."""

    key: PartKey
    pixels: NDArray[np.uint8]
    lines: tuple[Lettering, ...] = ()
    stored: tuple[float, float, float] = (1.0, 0.0, 0.0)

    def box(self, corners: Points) -> Box | None:
        """The box of stored pixels around places of the picture, cut to it; None outside."""
        h, w = self.pixels.shape[:2]
        if not np.isfinite(corners).all():
            return None
        left, top = np.clip(corners.min(axis=0), 0, (w, h))
        right, bottom = np.clip(corners.max(axis=0), 0, (w, h))
        if right - left < 2 or bottom - top < 2:
            return None
        scale, x, y = self.stored
        wide, high = math.ceil((right - left) * scale), math.ceil((bottom - top) * scale)
        return Box(int(left * scale + x), int(top * scale + y), wide, high)


def differ(a: Side, b: Side, a_to_b: Matrix, rules: DifferRules, *, polarity_flip: bool) -> Differences:
    """What differs between ``a`` and ``b``; ``a_to_b`` leads from pixels of the one to those of the other.

    Regions come surest first, those below the certainty that is worth showing are left out.
    """
    over = lay(a.pixels, b.pixels, a_to_b, rules.frame_px)
    ground = set_side_by_side(over, rules, polarity_flip=polarity_flip) if over else None
    if ground is None or ground.inside.sum() < 10 * rules.least_cells:
        return Differences(a.key, b.key, (), "what both show is too small or too unlike to be compared")
    both = _both_show(ground, a, b)
    cropped = _cropped(ground, a, b, rules)
    found = _find(ground, a, b, rules)
    if found is None:
        words = "most of the two is unlike: laid over one another they do not agree enough for a report"
        return Differences(a.key, b.key, cropped, words, *both)
    told = []
    for region in found:
        sure = _certainty(ground, region, len(found), rules)
        if sure >= rules.certainty.shown:
            told.append(_told(ground, region, sure, a, b))
    told.sort(key=lambda d: -d.certainty)
    return Differences(a.key, b.key, (*told, *cropped), "", *both)


# ---- which places differ --------------------------------------------------------------------------------------------


def _find(ground: Ground, a: Side, b: Side, rules: DifferRules) -> list[Found] | None:
    score = np.maximum(*ground.scores)
    flagged = (score > rules.flagged) & ground.inside
    if ground.untold > rules.most_usual:
        return None
    lines_a, lines_b = _lines_in_frame(a, ground.over.a_to_frame), _lines_in_frame(b, ground.over.b_to_frame)
    flagged &= ~slivers(flagged, ground.inside)
    found, left = stripped(ground, flagged, lines_a, lines_b, rules)
    more, left = worded(left, score, ground.inside, lines_a, lines_b, _read_alike(rules), rules)
    found += more
    more, left = went_their_way(ground, left, rules)
    found += more
    more, left = patched(ground, left, score, lines_a, lines_b, rules)
    found += more
    parts = [cells for cells in components(left, score, rules) if not _is_rim(cells, flagged, left, rules)]
    if parts:
        moved = np.asarray(cv2.blur(flow(*ground.twins), (9, 9)), np.float32)
        laid = carried(ground.over.b, moved)
        found += [_named(ground, cells, (moved, laid), rules) for cells in parts]
    return found


def _is_rim(cells: Mask, flagged: Mask, left: Mask, rules: DifferRules) -> bool:
    """Is this but what is left of the place around something that was told already?"""
    told = (flagged & ~left).astype(np.uint8)
    if not told.any():
        return False
    reach = 2 * (rules.window_px // STEP_PX) + 1
    beside = cv2.dilate(told, np.ones((reach, reach), np.uint8)) > 0
    _, labels = cv2.connectedComponents(flagged.astype(np.uint8))
    touched = np.isin(labels, np.unique(labels[cells])) & flagged & ~left
    return bool(cells.sum() < rules.most_rim * touched.sum() and (cells & beside).sum() > 0.5 * cells.sum())


# ---- what a place is called -----------------------------------------------------------------------------------------


def _named(ground: Ground, cells: Mask, flowed: tuple[Floats, Floats], rules: DifferRules) -> Found:
    """``flowed``: the flow to b, and b where it leads."""
    box = tight(cells, rules)
    words = rules.words

    def named(kind: DifferenceKind, text: str, where: FrameBox = box) -> Found:
        return Found(kind, cells, where, where, text)

    flat_a, flat_b = (evenness(p, box, even_within(p, rules)) for p in (ground.over.a, ground.over.b))
    for flat, other, on in ((flat_b, flat_a, "the second"), (flat_a, flat_b, "the first")):
        if flat >= rules.even and flat > other + 0.15:
            return named("covered", words["covered"].format(on=on))
    has_a, has_b = (float((score[cells] > rules.flagged).mean()) for score in ground.scores)
    if _follows_flow(ground, cells, flowed, rules):
        return named("redrawn", words["redrawn"])
    if has_a > 2.5 * has_b:
        return named("absent", words["absent"])
    if has_b > 2.5 * has_a:
        return named("added", words["added"])
    return named("redrawn", words["redrawn"])


def _follows_flow(ground: Ground, cells: Mask, flowed: tuple[Floats, Floats], rules: DifferRules) -> bool:
    """Is what lies there found again nearby, bent?"""
    moved, laid = flowed
    where = whole_cells(box_of(cells), rules.window_px, ground.over.seen.shape)
    score = scores_with(ground, laid, rules, where)
    at = cv2.resize(np.hypot(moved[..., 0], moved[..., 1]), cells.shape[::-1], interpolation=cv2.INTER_AREA)
    return bool(
        (score[cells] < rules.flagged).mean() > rules.least_explained and np.median(at[cells]) > rules.least_bend_px
    )


# ---- lettering ------------------------------------------------------------------------------------------------------


def _lines_in_frame(side: Side, to_frame: Matrix) -> list[Line]:
    return [(clean(x.text), apply(to_frame, np.array(x.corners, np.float64))) for x in side.lines]


def _read_alike(rules: DifferRules) -> Callable[[str, str], bool]:
    def alike(one: str, other: str) -> bool:
        return SequenceMatcher(None, squeeze(one), squeeze(other), autojunk=False).ratio() >= rules.same_text

    return alike


# ---- what either side shows more of ---------------------------------------------------------------------------------


def _cropped(ground: Ground, a: Side, b: Side, rules: DifferRules) -> tuple[Difference, ...]:
    """Where one of the two shows a strip of the picture that the other does not, by at least ``rules.cropped`` of a
    side."""
    field = box_of(ground.inside)
    shown = [
        shown_beyond(side.pixels, to_frame, field)
        for side, to_frame in ((a, ground.over.a_to_frame), (b, ground.over.b_to_frame))
    ]
    size = (field[2] - field[0], field[3] - field[1])
    less: dict[str, list[str]] = {"the first": [], "the second": []}
    for side, one, other in zip(("left", "top", "right", "bottom"), *shown, strict=True):
        share = (one - other) / size[side in ("top", "bottom")]
        if abs(share) >= rules.cropped:
            less["the second" if share > 0 else "the first"].append(f"{abs(share):.0%} off the {side}")
    both = _both_show(ground, a, b)
    words = [
        rules.words["cropped"].format(which=which, sides=", ".join(sides)) for which, sides in less.items() if sides
    ]
    if not words:
        return ()
    return (Difference("cropped", *both, round(ground.agreeing, 4), "; ".join(words)),)


def _both_show(ground: Ground, a: Side, b: Side) -> tuple[Box | None, Box | None]:
    corners = corners_of(box_of(ground.inside))
    return a.box(ground.over.on_a(corners)), b.box(ground.over.on_b(corners))


def _certainty(ground: Ground, region: Found, many: int, rules: DifferRules) -> float:
    c = rules.certainty
    odds = c.start + sum(c.weights[name] * v for name, v in zip(MEASURES, measures(ground, region, many), strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, odds))))


def _told(ground: Ground, region: Found, sure: float, a: Side, b: Side) -> Difference:
    on_a = a.box(ground.over.on_a(corners_of(region.on_a)))
    on_b = b.box(ground.over.on_b(corners_of(region.on_b)))
    factor = None if region.factor is None else round(region.factor, 4)
    return Difference(region.kind, on_a, on_b, round(sure, 4), region.words, factor)
