"""What differs between two pictures of one design: covered, added, pasted, scaled, moved, redrawn, other lettering.

The two are laid over one another by their match, then by a slow bend. A place differs where the structure of one is not
told by the other, whatever became of its tones (imaging/structure.py), beyond what noise, tones that a film or print
does not hold, and another hand leave on this very pair. Elements that follow a similarity of their own are told first;
the rest is named by what lies there on either side.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import DifferRules
from intake.imaging.beyond import shown_beyond
from intake.imaging.elements import Moved, moved_elements
from intake.imaging.geometry import Matrix, Points, apply
from intake.imaging.overlay import flow, lay
from intake.imaging.patches import even_within, evenness, patches, strips
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import (
    STRONG,
    Floats,
    FrameBox,
    Ground,
    Mask,
    box_of,
    hull_of,
    scores_with,
    set_side_by_side,
    whole_cells,
)
from intake.kin import Difference, DifferenceKind, Differences
from intake.model import Box, PartKey
from intake.ocr.text import clean, squeeze

VERSION = 2
_DEEPER_CELLS = 5


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


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """A region of the frame: its cells and box on either side (left, top, right, bottom; frame pixels)."""

    kind: DifferenceKind
    cells: Mask
    on_a: FrameBox
    on_b: FrameBox
    words: str
    factor: float | None = None


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
        sure = _certainty(ground, region, rules)
        if sure >= rules.certainty.shown:
            told.append(_told(ground, region, sure, a, b))
    told.sort(key=lambda d: -d.certainty)
    return Differences(a.key, b.key, (*told, *cropped), "", *both)


# ---- which places differ --------------------------------------------------------------------------------------------


def _find(ground: Ground, a: Side, b: Side, rules: DifferRules) -> list[_Found] | None:
    score = np.maximum(*ground.scores)
    flagged = (score > rules.flagged) & ground.inside
    if max(float(np.median(x[ground.inside])) for x in ground.usual) > rules.most_usual:
        return None
    textured = ground.inside & (ground.shows[0] + ground.shows[1] > 2 * STRONG)
    if flagged.sum() > rules.most_flagged * max(1, textured.sum()):
        return None
    lines_a, lines_b = _lines_in_frame(a, ground.over.a_to_frame), _lines_in_frame(b, ground.over.b_to_frame)
    flagged &= ~_slivers(flagged, ground.inside)
    _drop_same_text(flagged, lines_a, lines_b, rules)
    found, left = _patches(ground, flagged, score, lines_a, lines_b, rules)
    more, left = _went_their_way(ground, left, rules)
    found += more
    moved = flow(ground.alike, ground.over.b)
    for cells in _components(left, score, rules):
        found.append(_named(ground, cells, moved, lines_a, lines_b, rules))
    return found


def _slivers(flagged: Mask, inside: Mask) -> Mask:
    """What differs beside the rim alone: a picture's edge is not told to the pixel."""
    rim = inside & (cv2.erode(inside.astype(np.uint8), np.ones((7, 7), np.uint8), borderValue=0) == 0)
    _, labels = cv2.connectedComponents(flagged.astype(np.uint8))
    deeper = np.bincount(labels.ravel(), weights=(~rim).ravel(), minlength=labels.max() + 1)
    return np.asarray(flagged & (deeper[labels] < _DEEPER_CELLS), np.bool_)


def _components(flagged: Mask, score: Floats, rules: DifferRules) -> list[Mask]:
    kernel = np.ones((rules.joined_cells, rules.joined_cells), np.uint8)
    joined = cv2.morphologyEx(flagged.astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    count, labels = cv2.connectedComponents(joined)
    made = []
    for label in range(1, count):
        cells = (labels == label) & flagged
        if cells.sum() >= rules.least_cells and score[cells].max() >= rules.peak:
            made.append(cells)
    return made


def _patches(
    ground: Ground, flagged: Mask, score: Floats, lines_a: list[tuple[str, Points]], lines_b: list[tuple[str, Points]],
    rules: DifferRules,
) -> tuple[list[_Found], Mask]:  # fmt: skip
    """Strips and patches of one ground that lie over the one picture and not over the other, and the cells left."""
    found, left = _strips(ground, flagged, lines_a, lines_b, rules)
    for cells in _components(left, score, rules):
        box = _tight(cells, rules)
        for picture, other, on, lines in (
            (ground.over.b, ground.over.a, "the second", lines_b),
            (ground.over.a, ground.over.b, "the first", lines_a),
        ):
            for patch in patches(picture, cells, box, even_within(picture, rules), rules):
                even = evenness(other, patch.box, even_within(other, rules))
                under = _cells_in(patch.box, cells.shape, rules.window_px // 2) & left
                if patch.even < even + 0.1 or under.sum() < rules.least_cells:
                    continue
                read = _texts(lines, patch.box)
                if patch.long >= rules.strip_long:
                    words = rules.words["pasted"].format(on=on, reads=f", reads “{read}”" if read else "")
                    found.append(_Found("pasted", under, patch.box, patch.box, words))
                elif patch.even >= rules.even:
                    found.append(_Found("covered", under, patch.box, patch.box, rules.words["covered"].format(on=on)))
                else:
                    continue
                left &= ~under
    return found, left


def _strips(
    ground: Ground, flagged: Mask, lines_a: list[tuple[str, Points]], lines_b: list[tuple[str, Points]],
    rules: DifferRules,
) -> tuple[list[_Found], Mask]:  # fmt: skip
    """Even bands between straight cuts that lie over the one picture and not over the other, and the cells left."""
    found: list[_Found] = []
    left = flagged.copy()
    for picture, other, on, lines in (
        (ground.over.b, ground.over.a, "the second", lines_b),
        (ground.over.a, ground.over.b, "the first", lines_a),
    ):
        levels, others = even_within(picture, rules), even_within(other, rules)
        for box in strips(picture, levels, rules):
            core = _cells_in(box, flagged.shape, 0) & ground.inside
            under = _cells_in(box, flagged.shape, rules.window_px // 2) & left
            if under.sum() < rules.least_cells or (core & left).sum() < rules.patch_held * core.sum():
                continue
            if evenness(picture, box, levels) < evenness(other, box, others) + 0.1:
                continue
            read = _texts(lines, box)
            words = rules.words["pasted"].format(on=on, reads=f", reads “{read}”" if read else "")
            found.append(_Found("pasted", under, box, box, words))
            left &= ~under
    return found, left


def _cells_in(box: FrameBox, shape: tuple[int, int], grow_px: int) -> Mask:
    held = np.zeros(shape, bool)
    left, top = (max(0, int((v - grow_px) / STEP_PX)) for v in box[:2])
    right, bottom = (int((v + grow_px) / STEP_PX) + 1 for v in box[2:])
    held[top:bottom, left:right] = True
    return held


def _went_their_way(ground: Ground, flagged: Mask, rules: DifferRules) -> tuple[list[_Found], Mask]:
    """Elements that are found again elsewhere or at another size, and what of the flagged cells they do not tell."""
    around = cv2.dilate(flagged.astype(np.uint8), np.ones((9, 9), np.uint8))
    pa, pb = ground.places
    rows, columns = around.shape
    x, y = (np.clip(pa[:, k] / STEP_PX, 0, n - 1).astype(np.intp) for k, n in ((0, columns), (1, rows)))
    held = around[y, x] > 0
    groups = moved_elements(pa[held], pb[held], rules.miss_px, rules.least_points)
    found: list[_Found] = []
    left = flagged.copy()
    for group in groups:
        region = _as_element(ground, group, left, rules)
        if region is None:
            continue
        found.append(region)
        left &= ~_swept(region, left.shape, rules)
    return found, left


def _as_element(ground: Ground, group: Moved, flagged: Mask, rules: DifferRules) -> _Found | None:
    h, w = ground.over.seen.shape
    hull = hull_of(group.points, flagged.shape, grow_px=28)
    asked = hull & flagged
    if asked.sum() < rules.least_cells:
        return None
    where = whole_cells(box_of(hull), rules.window_px, (h, w))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    placed = cv2.warpPerspective(ground.over.b, group.transform, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    score = scores_with(ground, placed, rules, where)
    told = asked & (score < rules.flagged)
    if told.sum() < max(rules.least_cells, rules.least_explained * asked.sum()):
        return None
    box = box_of(told | (hull_of(group.points, flagged.shape, grow_px=4) & hull))
    corners = apply(group.transform, _corners(box))
    on_b = (*corners.min(axis=0), *corners.max(axis=0))
    middle = np.array([[(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]])
    away = float(np.hypot(*(apply(group.transform, middle) - middle)[0])) / max(h, w)
    factor = group.factor
    if abs(factor - 1) >= rules.least_factor:
        also = f", and moved by {away:.1%} of the long side" if away > 4 * rules.least_move else ""
        words = rules.words["scaled"].format(
            more="larger" if factor > 1 else "smaller", percent=100 * abs(factor - 1), moved=also
        )
        return _Found("scaled", told, box, on_b, words, factor)
    if away < rules.least_move:
        return None
    return _Found("moved", told, box, on_b, rules.words["moved"].format(percent=100 * away))


def _swept(region: _Found, shape: tuple[int, int], rules: DifferRules) -> Mask:
    """All that an element hid or laid bare by going its way."""
    return _cells_in(region.on_a, shape, rules.window_px // 2) | _cells_in(region.on_b, shape, rules.window_px // 2)


# ---- what a place is called -----------------------------------------------------------------------------------------


def _named(
    ground: Ground, cells: Mask, moved: Floats, lines_a: list[tuple[str, Points]], lines_b: list[tuple[str, Points]],
    rules: DifferRules,
) -> _Found:  # fmt: skip
    box = _tight(cells, rules)
    words = rules.words
    read_a, read_b = _texts(lines_a, box), _texts(lines_b, box)

    def named(kind: DifferenceKind, text: str, where: FrameBox = box) -> _Found:
        return _Found(kind, cells, where, where, text)

    flat_a, flat_b = (evenness(p, box, even_within(p, rules)) for p in (ground.over.a, ground.over.b))
    for flat, other, on in ((flat_b, flat_a, "the second"), (flat_a, flat_b, "the first")):
        if flat >= rules.even and flat > other + 0.15:
            return named("covered", words["covered"].format(on=on))
    if (read_a or read_b) and _under_lines(cells, lines_a + lines_b) > 0.5:
        reads = (
            f"“{read_a}” on the first, “{read_b}” on the second"
            if read_a and read_b
            else (f"“{read_a}” on the first alone" if read_a else f"“{read_b}” on the second alone")
        )
        return named("lettering", words["lettering"].format(reads=reads))
    has_a, has_b = (float((score[cells] > rules.flagged).mean()) for score in ground.scores)
    if _follows_flow(ground, cells, moved, rules):
        return named("redrawn", words["redrawn"])
    if has_a > 2.5 * has_b:
        return named("absent", words["absent"])
    if has_b > 2.5 * has_a:
        return named("added", words["added"])
    return named("redrawn", words["redrawn"])


def _follows_flow(ground: Ground, cells: Mask, moved: Floats, rules: DifferRules) -> bool:
    """Is what lies there found again nearby, bent?"""
    h, w = ground.over.seen.shape
    where = whole_cells(box_of(cells), rules.window_px, (h, w))
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    part = cv2.blur(moved, (9, 9))
    placed = cv2.remap(ground.over.b, x + part[..., 0], y + part[..., 1], cv2.INTER_LINEAR)
    score = scores_with(ground, placed, rules, where)
    at = cv2.resize(np.hypot(part[..., 0], part[..., 1]), cells.shape[::-1], interpolation=cv2.INTER_AREA)
    return bool(
        (score[cells] < rules.flagged).mean() > rules.least_explained and np.median(at[cells]) > rules.least_bend_px
    )


# ---- lettering ------------------------------------------------------------------------------------------------------


def _lines_in_frame(side: Side, to_frame: Matrix) -> list[tuple[str, Points]]:
    return [(clean(x.text), apply(to_frame, np.array(x.corners, np.float64))) for x in side.lines]


def _drop_same_text(
    flagged: Mask, lines_a: Sequence[tuple[str, Points]], lines_b: Sequence[tuple[str, Points]], rules: DifferRules
) -> None:
    """Lines that read alike at one place do not differ, whatever their ink looks like."""
    for text, corners in lines_a:
        for other, there in lines_b:
            near = np.hypot(*(corners.mean(axis=0) - there.mean(axis=0))) < 0.5 * np.ptp(corners, axis=0).max()
            if near and SequenceMatcher(None, squeeze(text), squeeze(other), autojunk=False).ratio() >= rules.same_text:
                flagged &= ~_polygon([corners, there], flagged.shape)


def _texts(lines: Sequence[tuple[str, Points]], box: FrameBox) -> str:
    """The lines whose middle lies in the box, from the top."""
    held = [
        (float(c[:, 1].mean()), text)
        for text, c in lines
        if box[0] - 8 <= c[:, 0].mean() <= box[2] + 8 and box[1] - 8 <= c[:, 1].mean() <= box[3] + 8
    ]
    return " / ".join(text for _, text in sorted(held))


def _under_lines(cells: Mask, lines: Sequence[tuple[str, Points]]) -> float:
    under = np.zeros_like(cells)
    for _, corners in lines:
        under |= _polygon([corners], cells.shape)
    return float((cells & under).sum() / max(1, cells.sum()))


def _polygon(polygons: Sequence[Points], shape: tuple[int, int]) -> Mask:
    made = np.zeros(shape, np.uint8)
    for corners in polygons:
        if np.isfinite(corners).all():
            points = np.clip(corners / STEP_PX, -1e4, 1e4).round().astype(np.int32)
            cv2.fillConvexPoly(made, cv2.convexHull(points), 1)
    return cv2.dilate(made, np.ones((7, 7), np.uint8)) > 0


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
    corners = _corners(box_of(ground.inside))
    return a.box(ground.over.on_a(corners)), b.box(ground.over.on_b(corners))


# ---- regions --------------------------------------------------------------------------------------------------------


MEASURES = ("peak", "mean", "area", "agreeing", "levels", "both", "filled", "patch", "element", "rim")


def measures(ground: Ground, region: _Found) -> tuple[float, ...]:
    """Of a region, in the order of MEASURES: logarithms of its highest and mean score and of its cells; how far the
    pair agrees as a whole; the logarithm of what is untold in levels; how far both sides are untold; how much of its
    box is told by cells; whether it is a patch, whether an element was found again, and how much of it lies beside the
    rim."""
    cells = region.cells
    score = np.maximum(*ground.scores)[cells]
    untold = np.maximum(*(s * n for s, n in zip(ground.scores, ground.noise, strict=True)))[cells]
    has = [float((s[cells] > 1.5).mean()) for s in ground.scores]
    left, top, right, bottom = box_of(cells)
    return (
        math.log(max(1e-3, float(np.quantile(score, 0.9)))),
        math.log(max(1e-3, float(score.mean()))),
        math.log(float(cells.sum()) + 1),
        ground.agreeing,
        0.5 * math.log(max(1e-3, float(untold.mean()))),
        min(has) / max(1e-3, max(has)),
        float(cells.sum()) * STEP_PX**2 / max(1.0, (right - left) * (bottom - top)),
        float(region.kind in ("pasted", "covered")),
        float(region.kind in ("scaled", "moved")),
        float(_beside_rim(ground.inside)[cells].mean()),
    )


def _beside_rim(inside: Mask) -> Mask:
    return inside & (cv2.erode(inside.astype(np.uint8), np.ones((7, 7), np.uint8), borderValue=0) == 0)


def _certainty(ground: Ground, region: _Found, rules: DifferRules) -> float:
    c = rules.certainty
    odds = c.start + sum(c.weights[name] * v for name, v in zip(MEASURES, measures(ground, region), strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, odds))))


def _told(ground: Ground, region: _Found, sure: float, a: Side, b: Side) -> Difference:
    on_a = a.box(ground.over.on_a(_corners(region.on_a)))
    on_b = b.box(ground.over.on_b(_corners(region.on_b)))
    factor = None if region.factor is None else round(region.factor, 4)
    return Difference(region.kind, on_a, on_b, round(sure, 4), region.words, factor)


def _tight(cells: Mask, rules: DifferRules) -> FrameBox:
    """The box of the cells less what the window smears."""
    left, top, right, bottom = box_of(cells)
    x, y = (max(0.0, min(rules.window_px / 3, (size - 8) / 2)) for size in (right - left, bottom - top))
    return left + x, top + y, right - x, bottom - y


def _corners(box: FrameBox) -> Points:
    left, top, right, bottom = box
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float64)
