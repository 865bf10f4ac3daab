"""Places on a piece that look worn or damaged, in the trade's words: suggestions for whoever has it in hand.

What is looked for is what a scan of one side can show: where the bed or backing shows within the sheet's own rectangle,
and what differs on its unprinted margin. Closed tears, and tape and stains that lie within the picture alone, are not.
"""

import math
from collections.abc import Iterator, Sequence

import cv2
import numpy as np

from intake.config.condition import ConditionRules, Rim
from intake.imaging.blots import dots, margin_paper, patches
from intake.imaging.outline import Corners
from intake.imaging.page import Page
from intake.imaging.rim import Gap, Laid, gaps, ground_of, holes, laid
from intake.model import Box, Checked, Classified, Condition, ConditionSort, Folded, Place, Rendered

VERSION = 1
MM_PER_INCH = 25.4
_SIDES = ("top", "right", "bottom", "left")
_PIN_PER_MM = 8.0


def condition(
    page: Page, rendered: Rendered, classified: Classified, folded: Folded, checked: Checked, rules: ConditionRules
) -> Condition:
    """Return the places of the sorts that are on, and which sorts could be looked for on this scan."""
    if classified.kind not in rules.kinds or classified.polarity == "negative" or len(rendered.outline) != 4:
        return Condition()
    found, looked = propose(page, rendered, folded, checked, rules)
    on = {sort for sort, row in rules.sorts.items() if row.on}
    kept = [place for place in found if place.sort in on]
    return Condition(tuple(sorted(looked & on)), tuple(kept[: rules.most_places]))


def propose(
    page: Page, rendered: Rendered, folded: Folded, checked: Checked, rules: ConditionRules
) -> tuple[list[Place], set[ConditionSort]]:
    """Return places of every sort, on or off, and the sorts that could be looked for; the bench measures them all."""
    corners = np.array(rendered.outline, np.float64)
    working = (corners - (page.box.left, page.box.top)) / page.stored_per_working
    long_px = max(math.dist(working[0], working[1]), math.dist(working[0], working[3]))
    long_mm = long_px * page.stored_per_working * MM_PER_INCH / checked.ppi if checked.ppi else rules.unknown_long_mm
    piece = laid(page.working, working, long_px / long_mm)
    back = np.linalg.inv(piece.matrix)
    found: list[Place] = []
    looked: set[ConditionSort] = set()

    def place(sort: ConditionSort, box: Sequence[float], words: str) -> Place:
        left, top = piece.pad[:2]
        x0, y0, x1, y1 = box[0] + left, box[1] + top, box[2] + left, box[3] + top
        ends = cv2.perspectiveTransform(np.array([[[x0, y0], [x1, y0], [x1, y1], [x0, y1]]], np.float64), back)[0]
        ends = ends * page.stored_per_working + (page.box.left, page.box.top)
        return Place(sort, _box_of(ends), rules.sorts[sort].sure, words)

    ground = ground_of(piece, rules.rim.tell)
    if ground.sides:
        looked |= {"missing_corner", "missing_paper", "tear", "edge_wear"}
        found += [place(*one) for one in _on_rim(gaps(piece, ground, rules.rim.least_mm), piece, rules)]
    crossings = _crossings(folded, piece)
    if len(ground.sides) > 2 and crossings:
        looked.add("fold_loss")
        for gap in holes(piece, ground, crossings, rules.hole.reach_mm):
            if gap.area_mm2 >= rules.hole.least_mm2 and gap.bare >= rules.hole.light:
                words = f"what the sheet lies on shows where folds cross, {gap.wide_mm:.0f} x {gap.deep_mm:.0f} mm"
                found.append(place("fold_loss", gap.box, words))
    rows, columns = piece.inside
    picture = np.ascontiguousarray(piece.picture[rows, columns])
    found += [place(*one) for one in _on_margin(picture, piece.px_per_mm, rules, looked)]
    pins = _pinholes(page, corners, piece, rules)
    if pins is not None:
        looked.add("pinhole")
        found += [place("pinhole", *one) for one in pins]
    return found, looked


def _on_margin(
    picture: np.ndarray, px_per_mm: float, rules: ConditionRules, looked: set[ConditionSort]
) -> Iterator[tuple[ConditionSort, Sequence[float], str]]:
    factor = min(1.0, rules.tint.per_mm / px_per_mm)
    size = (max(8, round(picture.shape[1] * factor)), max(8, round(picture.shape[0] * factor)))
    small = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
    px_per_mm *= factor
    paper = margin_paper(small, px_per_mm, rules.margin_most_mm)
    if paper.mean() < rules.margin_least:
        return
    looked |= {"tape", "stain"}
    for patch in patches(small, paper, px_per_mm, rules.tint.least, rules.tint.least_mm2):
        box = [v / factor for v in patch.box]
        words = f"paper yellower than the margin elsewhere, {patch.area_mm2:.0f} mm² of it"
        tape, stain = rules.tape, rules.stain
        is_strip = patch.fill >= tape.fill and patch.rim <= tape.rim * patch.tint
        if is_strip and (patch.sharp >= tape.sharp or patch.tint >= tape.strong):
            yield "tape", box, f"{words}, even within straight edges"
        elif patch.rim >= stain.rim * patch.tint and patch.sharp >= stain.sharp and patch.fill >= stain.fill:
            yield "stain", box, f"{words}, with a sharp border darker than the rest"


def _on_rim(
    opened: Sequence[Gap], piece: Laid, rules: ConditionRules
) -> Iterator[tuple[ConditionSort, Sequence[float], str]]:
    rim, small = rules.rim, []
    for gap in opened:
        where = " and ".join(_SIDES[s] for s in gap.sides)
        size = f"{gap.wide_mm:.0f} mm along the {where} edge as stored, {gap.deep_mm:.0f} mm deep"
        shown = "what the sheet lies on shows"
        if len(gap.sides) == 2 and min(gap.wide_mm, gap.deep_mm) >= rim.corner_mm:
            yield "missing_corner", gap.box, f"{shown} in the corner: {gap.wide_mm:.0f} x {gap.deep_mm:.0f} mm"
        elif gap.deep_mm >= rim.chip_mm and gap.bare < rim.light:
            continue  # print of the ground's own colour has no torn rim
        elif gap.deep_mm >= rim.tear_mm and _is_narrow(gap, rim):
            yield "tear", gap.box, f"{shown} in a narrow opening: {size}"
        elif gap.deep_mm >= rim.chip_mm and gap.wide_mm >= rim.chip_mm and len(gap.sides) == 1:
            yield "missing_paper", gap.box, f"{shown}: {size}"
        elif gap.area_mm2 >= rim.wear_mm2:
            small.append(gap)
    for side in range(4):
        chips = sorted((g for g in small if side in g.sides), key=lambda g: g.box[side % 2])
        for run in _runs(chips, side % 2, rim.wear_apart_mm * piece.px_per_mm):
            if len(run) >= rim.wear_chips:
                boxes = np.array([g.box for g in run])
                box = (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))
                yield (
                    "edge_wear",
                    [float(v) for v in box],
                    f"{len(run)} small chips along the {_SIDES[side]} edge as stored",
                )


def _is_narrow(gap: Gap, rim: Rim) -> bool:
    """Is the gap narrower, on the whole, than chips are?"""
    return gap.area_mm2 / gap.deep_mm <= min(rim.tear_wide_mm, rim.tear_share * gap.deep_mm)


def _runs(chips: Sequence[Gap], axis: int, apart: float) -> list[list[Gap]]:
    runs: list[list[Gap]] = []
    for gap in chips:
        if runs and gap.box[axis] - runs[-1][-1].box[axis + 2] <= apart:
            runs[-1].append(gap)
        else:
            runs.append([gap])
    return runs


def _crossings(folded: Folded, piece: Laid) -> list[tuple[float, float]]:
    """Where folds cross, in pixels of the laid piece."""
    rows, columns = piece.inside
    wide, high = columns.stop - columns.start, rows.stop - rows.start
    across = [line.at for line in folded.lines if line.axis == "x" and not line.printed]
    down = [line.at for line in folded.lines if line.axis == "y" and not line.printed]
    return [(x * wide, y * high) for x in across for y in down]


def _pinholes(
    page: Page, corners: Corners, piece: Laid, rules: ConditionRules
) -> list[tuple[Sequence[float], str]] | None:
    """Pins near the four corners, looked at close to the stored resolution; None where that is too coarse."""
    pin = rules.pinhole
    rows, columns = piece.inside
    wide, high = columns.stop - columns.start, rows.stop - rows.start
    side = pin.from_corner_mm * piece.px_per_mm
    if min(wide, high) < 2 * side:
        return None
    right, down = (corners[1] - corners[0]) / wide, (corners[3] - corners[0]) / high
    per_mm = min(_PIN_PER_MM, float(np.hypot(*right)) * piece.px_per_mm)
    if per_mm < pin.least_per_mm:
        return None
    found: list[tuple[Sequence[float], str]] = []
    for x, y in ((0.0, 0.0), (wide - side, 0.0), (0.0, high - side), (wide - side, high - side)):
        a = corners[0] + right * x + down * y
        quad = np.array([a, a + right * side, a + right * side + down * side, a + down * side])
        box = _box_of(quad)
        longest = round(max(box.width, box.height) / float(np.hypot(*right)) / piece.px_per_mm * per_mm)
        crop = page.crop(box, longest)
        scale = crop.shape[1] / box.width
        size = max(8, round(pin.from_corner_mm * per_mm))
        target = np.array([[0, 0], [size, 0], [size, size], [0, size]], np.float32)
        turn = cv2.getPerspectiveTransform(((quad - (box.left, box.top)) * scale).astype(np.float32), target)
        patch = cv2.warpPerspective(crop, turn, (size, size), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for dot in dots(np.asarray(patch, np.uint8), size / pin.from_corner_mm, pin.across_mm, pin.dark, pin.alone_mm):
            to = side / size
            place = (x + dot.box[0] * to, y + dot.box[1] * to, x + dot.box[2] * to, y + dot.box[3] * to)
            words = f"a round dark spot {dot.across_mm:.1f} mm across near a corner, nothing printed beside it"
            found.append((place, words))
    return found


def _box_of(points: np.ndarray) -> Box:
    """The whole pixels that hold the points (n, 2)."""
    (left, top), (right, bottom) = np.floor(points.min(axis=0)), np.ceil(points.max(axis=0))
    return Box(max(0, int(left)), max(0, int(top)), max(1, int(right - left)), max(1, int(bottom - top)))
