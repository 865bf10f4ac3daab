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
from intake.imaging.elements import Moved, moved_elements, same_places
from intake.imaging.geometry import Matrix, Points, apply
from intake.imaging.overlay import Overlay, bent, evened, flow, grey, lay, settled, softened, with_tones_of
from intake.imaging.structure import (
    STEP_PX,
    Structure,
    Ways,
    covariances,
    seen_cells,
    shared_ways,
    structure,
    variance_along,
)
from intake.kin import Difference, DifferenceKind, Differences
from intake.model import Box, PartKey
from intake.ocr.text import clean, squeeze

VERSION = 1

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
_LEAST_NOISE = 1.0
_STRONG = 8.0
_OUTER, _MOST_SLANT, _SLANT_GAIN = 0.03, 0.15, 0.6
_TONES, _TONES_TRIED = 10, 3
_FULL_CONTRAST = 55.0
_BEYOND_CELLS, _MOST_OF_A_LINE = 9, 0.35
_BEYOND, _BEYOND_PX, _DRAWN = 0.25, 300, 0.4


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
class _Ground:
    """The two laid over one another, and how far each cell's structure is left untold (see ``_scores``)."""

    over: Overlay
    places: tuple[Points, Points]
    alike: Floats
    back: Floats
    ways: Ways
    noise: tuple[float, float]
    usual: tuple[Floats, Floats]
    shows: tuple[Floats, Floats]
    scores: tuple[Floats, Floats]
    inside: Mask
    agreeing: float


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """A region of the frame: its cells and box on either side (left, top, right, bottom; frame pixels)."""

    kind: DifferenceKind
    cells: Mask
    on_a: tuple[float, float, float, float]
    on_b: tuple[float, float, float, float]
    words: str
    factor: float | None = None


def differ(a: Side, b: Side, a_to_b: Matrix, rules: DifferRules, *, polarity_flip: bool) -> Differences:
    """What differs between ``a`` and ``b``; ``a_to_b`` leads from pixels of the one to those of the other.

    Regions come surest first, those below the certainty that is worth showing are left out.
    """
    over = lay(a.pixels, b.pixels, a_to_b, rules.frame_px)
    ground = _ground(over, rules, polarity_flip=polarity_flip) if over else None
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


# ---- how well the two agree -----------------------------------------------------------------------------------------


def _ground(over: Overlay, rules: DifferRules, *, polarity_flip: bool) -> _Ground | None:
    """Where another hand or a coarse screen leaves much untold, both are looked at softer."""
    alike, _ = with_tones_of(over, polarity_flip=polarity_flip)
    reach = rules.reach * max(over.seen.shape)
    pa, pb = same_places(evened(grey(alike)), evened(grey(over.b)), reach)
    over = bent(over, alike, pa, pb)
    alike, _ = with_tones_of(over, polarity_flip=polarity_flip)
    over = settled(over, flow(alike, over.b), rules.slack_px)
    x, y = (np.clip(pb[:, k], 0, n - 1).astype(np.intp) for k, n in ((0, over.seen.shape[1]), (1, over.seen.shape[0])))
    places = pa, pb - over.bend[y, x]
    ground = _told_apart(over, places, rules, polarity_flip=polarity_flip)
    if ground is not None and max(float(np.median(x[ground.inside])) for x in ground.usual) > rules.soften_from:
        return _told_apart(softened(over, rules.soften_px), places, rules, polarity_flip=polarity_flip)
    return ground


def _told_apart(
    over: Overlay, places: tuple[Points, Points], rules: DifferRules, *, polarity_flip: bool
) -> _Ground | None:
    alike, back = with_tones_of(over, polarity_flip=polarity_flip)
    cells = seen_cells(over.seen, rules.window_px)
    if not cells.any():
        return None
    both = covariances(over.a, over.b, rules.window_px)
    ways = shared_ways(both, cells, rules.noise, rules.least_shared)
    s = structure(both, ways, rules.noise)
    shows = variance_along(alike, ways.b, rules.window_px), variance_along(back, ways.a, rules.window_px)
    noise = tuple(max(_LEAST_NOISE, float(np.quantile(x[cells], rules.quiet_quantile))) for x in (s.left_a, s.left_b))
    # usual leavings are told where the two agree: first over all, then within the part that does
    tones = _tone(over.a, rules), _tone(over.b, rules)
    inside = cells
    scores = s.left_a, s.left_b
    for _ in range(2):
        usual = (
            _usual(s.of_a, s.left_a, tones[0], noise[0], inside),
            _usual(s.of_b, s.left_b, tones[1], noise[1], inside),
        )
        scores = _scores(s, shows, (noise[0], noise[1]), usual)
        inside = _common(s, scores, (noise[0], noise[1]), cells, rules)
        if not inside.any():
            return None
    textured = inside & ((s.of_a > _STRONG * noise[0]) | (s.of_b > _STRONG * noise[1]))
    agreeing = float((np.maximum(*scores) < rules.flagged)[textured].mean()) if textured.any() else 0.0
    return _Ground(over, places, alike, back, ways, (noise[0], noise[1]), usual, shows, scores, inside, agreeing)


def _usual(of: Floats, left: Floats, tone: Floats, own: float, cells: Mask) -> Floats:
    """The share of structure that is left untold at each tone where all is well: film and print hold some tones badly.

    It is the median within tenths of the cells by tone, so that a place that differs seldom rules one.
    """
    strong = cells & (of > _STRONG * own)
    if strong.sum() < 20 * _TONES:
        return np.full(of.shape, 0.3, np.float32)
    tones, shares = tone[strong], left[strong] / of[strong]
    edges = np.quantile(tones, np.linspace(0, 1, _TONES + 1))
    bins = np.clip(np.searchsorted(edges, tones, "right") - 1, 0, _TONES - 1)
    at = [float(np.median(tones[bins == n])) for n in range(_TONES) if (bins == n).any()]
    says = [float(np.median(shares[bins == n])) for n in range(_TONES) if (bins == n).any()]
    return np.interp(tone, at, says).astype(np.float32)


def _tone(picture: Floats, rules: DifferRules) -> Floats:
    at = (slice(STEP_PX // 2, None, STEP_PX), slice(STEP_PX // 2, None, STEP_PX))
    return np.asarray(cv2.blur(grey(picture), (rules.window_px, rules.window_px))[at], np.float32)


def _scores(
    s: Structure, shows: tuple[Floats, Floats], noise: tuple[float, float], usual: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """What is left untold over what was to be expected: noise, and of the structure the share that the other picture's
    noise hides (errors in variables; what a dense tone of film hardly holds is hidden most) or that is usual here."""
    made = []
    for of, left, show, own, other, share in (
        (s.of_a, s.left_a, shows[0], noise[0], noise[1], usual[0]),
        (s.of_b, s.left_b, shows[1], noise[1], noise[0], usual[1]),
    ):
        made.append(np.asarray(left / (own + of * (other / (show + other) + share)), np.float32))
    return made[0], made[1]


def _common(
    s: Structure, scores: tuple[Floats, Floats], noise: tuple[float, float], cells: Mask, rules: DifferRules
) -> Mask:
    """The part of the frame that both pictures fill: what agrees, as a field of four sides, and a little beyond.

    Borders, rebates and grounds are no part of the picture: where a whole line of cells beside a side differs, the
    field ends within it.
    """
    textured = (s.of_a > 3 * noise[0]) & (s.of_b > 3 * noise[1])
    score = np.maximum(*scores)
    agree = (textured & cells & (score < 1.2)).astype(np.uint8)
    agree = cv2.morphologyEx(agree, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    if agree.sum() < 20:
        return np.zeros_like(cells)
    rows, columns = agree.shape
    field = cells.copy()
    y, x = np.mgrid[:rows, :columns]
    for some, along, across in ((agree, x, y), (agree.T, y, x)):
        lanes = np.flatnonzero(some.sum(axis=0) >= 3)
        if len(lanes) < 8:
            return np.zeros_like(cells)
        first = some[:, lanes].argmax(axis=0).astype(np.float64)
        last = some.shape[0] - 1 - some[::-1, lanes].argmax(axis=0).astype(np.float64)
        for ends, sign in ((first, 1), (-last, -1)):
            slope, start = _outer_line(lanes, ends)
            within = np.rint(sign * across - slope * along - start).astype(np.intp)
            field &= within >= _ends_at(within, cells, score > rules.flagged, rules)
    return field


def _ends_at(within: NDArray[np.intp], cells: Mask, flagged: Mask, rules: DifferRules) -> int:
    """How many lines of cells within (or, below 0, beyond) a side of what agrees the picture ends."""
    ends = -_BEYOND_CELLS
    for line in range(-_BEYOND_CELLS, rules.rim_px // STEP_PX + 4):
        here = (within == line) & cells
        if not here.any() or flagged[here].mean() > _MOST_OF_A_LINE:
            ends = line + 1 + rules.rim_px // STEP_PX
    return ends


def _outer_line(lanes: NDArray[np.intp], first: NDArray[np.float64]) -> tuple[float, float]:
    """The line that a tenth of the places lie before (quantile regression by reweighting)."""
    design = np.column_stack([lanes - lanes.mean(), np.ones(len(lanes))]).astype(np.float64)
    straight = float(np.quantile(first, _OUTER))
    line = np.array([0.0, straight])
    for _ in range(12):
        miss = first - design @ line
        weights = np.where(miss < 0, 1 - _OUTER, _OUTER) / np.maximum(np.abs(miss), 0.5)
        line = np.linalg.lstsq(design * np.sqrt(weights)[:, None], first * np.sqrt(weights), rcond=None)[0]
    if abs(line[0]) > _MOST_SLANT or _pinball(first - design @ line) > _SLANT_GAIN * _pinball(first - straight):
        return 0.0, straight
    return float(line[0]), float(line[1] - line[0] * lanes.mean())


def _pinball(miss: NDArray[np.float64]) -> float:
    return float(np.where(miss < 0, (_OUTER - 1) * miss, _OUTER * miss).mean())


def _again(ground: _Ground, b: Floats, rules: DifferRules, where: tuple[int, int, int, int]) -> Floats:
    """The larger score of each cell with another b in place, within ``where`` (left, top, right, bottom; frame pixels,
    whole cells), elsewhere infinite."""
    left, top, right, bottom = where
    cut = (slice(top, bottom), slice(left, right))
    both = covariances(ground.over.a[cut], b[cut], rules.window_px)
    s = structure(both, ground.ways, rules.noise)
    at = (
        slice(top // STEP_PX, top // STEP_PX + s.of_a.shape[0]),
        slice(left // STEP_PX, left // STEP_PX + s.of_a.shape[1]),
    )
    out = np.full(ground.inside.shape, np.inf, np.float32)
    shows_b = variance_along(ground.back[cut], ground.ways.a, rules.window_px)
    scores = _scores(s, (ground.shows[0][at], shows_b), ground.noise, (ground.usual[0][at], ground.usual[1][at]))
    out[at] = np.maximum(*scores)
    return out


# ---- which places differ --------------------------------------------------------------------------------------------


def _find(ground: _Ground, a: Side, b: Side, rules: DifferRules) -> list[_Found] | None:
    score = np.maximum(*ground.scores)
    flagged = (score > rules.flagged) & ground.inside
    if max(float(np.median(x[ground.inside])) for x in ground.usual) > rules.most_usual:
        return None
    textured = ground.inside & (ground.shows[0] + ground.shows[1] > 2 * _STRONG)
    if flagged.sum() > rules.most_flagged * max(1, textured.sum()):
        return None
    lines_a, lines_b = _lines_in_frame(a, ground.over.a_to_frame), _lines_in_frame(b, ground.over.b_to_frame)
    _drop_same_text(flagged, lines_a, lines_b, rules)
    found, left = _patches(ground, flagged, score, lines_a, lines_b, rules)
    more, left = _went_their_way(ground, left, rules)
    found += more
    moved = flow(ground.alike, ground.over.b)
    for cells in _components(left, score, rules):
        found.append(_named(ground, cells, moved, lines_a, lines_b, rules))
    return found


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
    ground: _Ground, flagged: Mask, score: Floats, lines_a: list[tuple[str, Points]], lines_b: list[tuple[str, Points]],
    rules: DifferRules,
) -> tuple[list[_Found], Mask]:  # fmt: skip
    """Strips and patches of one ground that lie over the one picture and not over the other, and the cells left."""
    found: list[_Found] = []
    left = flagged.copy()
    for cells in _components(flagged, score, rules):
        box = _tight(cells, rules)
        for picture, other, on, lines in (
            (ground.over.b, ground.over.a, "the second", lines_b),
            (ground.over.a, ground.over.b, "the first", lines_a),
        ):
            for patch in _patch(picture, cells, box, _levels(picture, rules), rules):
                even = _evenness(other, patch.box, _levels(other, rules))
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


def _cells_in(box: tuple[float, float, float, float], shape: tuple[int, int], grow_px: int) -> Mask:
    held = np.zeros(shape, bool)
    left, top = (max(0, int((v - grow_px) / STEP_PX)) for v in box[:2])
    right, bottom = (int((v + grow_px) / STEP_PX) + 1 for v in box[2:])
    held[top:bottom, left:right] = True
    return held


def _went_their_way(ground: _Ground, flagged: Mask, rules: DifferRules) -> tuple[list[_Found], Mask]:
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


def _as_element(ground: _Ground, group: Moved, flagged: Mask, rules: DifferRules) -> _Found | None:
    h, w = ground.over.seen.shape
    hull = _hull(group.points, flagged.shape, grow_px=28)
    asked = hull & flagged
    if asked.sum() < rules.least_cells:
        return None
    where = _whole_cells(_box_of(hull), rules.window_px, (h, w))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    placed = cv2.warpPerspective(ground.over.b, group.transform, (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    score = _again(ground, placed, rules, where)
    told = asked & (score < rules.flagged)
    if told.sum() < max(rules.least_cells, rules.least_explained * asked.sum()):
        return None
    box = _box_of(told | (_hull(group.points, flagged.shape, grow_px=4) & hull))
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
    ground: _Ground, cells: Mask, moved: Floats, lines_a: list[tuple[str, Points]], lines_b: list[tuple[str, Points]],
    rules: DifferRules,
) -> _Found:  # fmt: skip
    box = _tight(cells, rules)
    words = rules.words
    read_a, read_b = _texts(lines_a, box), _texts(lines_b, box)

    def named(kind: DifferenceKind, text: str, where: tuple[float, float, float, float] = box) -> _Found:
        return _Found(kind, cells, where, where, text)

    flat_a, flat_b = (_evenness(p, box, _levels(p, rules)) for p in (ground.over.a, ground.over.b))
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


def _follows_flow(ground: _Ground, cells: Mask, moved: Floats, rules: DifferRules) -> bool:
    """Is what lies there found again nearby, bent?"""
    h, w = ground.over.seen.shape
    where = _whole_cells(_box_of(cells), rules.window_px, (h, w))
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    part = cv2.blur(moved, (9, 9))
    placed = cv2.remap(ground.over.b, x + part[..., 0], y + part[..., 1], cv2.INTER_LINEAR)
    score = _again(ground, placed, rules, where)
    at = cv2.resize(np.hypot(part[..., 0], part[..., 1]), cells.shape[::-1], interpolation=cv2.INTER_AREA)
    return bool(
        (score[cells] < rules.flagged).mean() > rules.least_explained and np.median(at[cells]) > rules.least_bend_px
    )


@dataclass(frozen=True, slots=True)
class _Patch:
    """A four-sided place of one ground: its box, how much of it is of that tone, and how much longer than high it
    is."""

    box: tuple[float, float, float, float]
    even: float
    long: float


def _patch(
    picture: Floats, cells: Mask, box: tuple[float, float, float, float], even: float, rules: DifferRules
) -> list[_Patch]:
    """The patches of one ground, with or without lettering, that the cells lie on."""
    grow = rules.window_px
    left, top = (max(0, int(v) - grow) for v in box[:2])
    right, bottom = (int(v) + grow for v in box[2:])
    cut = picture[top:bottom, left:right]
    if min(cut.shape[:2]) < 8:
        return []
    size = (picture.shape[1], picture.shape[0])
    where = cv2.resize(cells.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)[top:bottom, left:right]
    tones = cut[where > 0]
    light = tones.mean(axis=1)
    levels = np.convolve(np.histogram(light, bins=32, range=(0, 256))[0], [1, 1, 1], "same")
    found: list[_Patch] = []
    for _ in range(_TONES_TRIED):
        fullest = int(levels.argmax())
        near = np.abs(light - (fullest * 8 + 4)) < 12
        if near.sum() > 30:
            found += _patches_of(cut, where, np.median(tones[near], axis=0), (left, top), even, rules)
        levels[max(0, fullest - 2) : fullest + 3] = 0
    return sorted(found, key=lambda p: -(p.box[2] - p.box[0]) * (p.box[3] - p.box[1]))


def _patches_of(
    cut: Floats, where: NDArray[np.uint8], tone: Floats, at: tuple[int, int], even: float, rules: DifferRules
) -> list[_Patch]:
    ground = (np.abs(cut - tone).max(axis=2) < even).astype(np.uint8)
    # letters are closed within the ground, then all that is thinner than a strip falls away
    high = min(cut.shape[:2])
    letters = min(23, max(7, int(0.35 * high)) | 1)
    closed = cv2.morphologyEx(ground, cv2.MORPH_CLOSE, np.ones((letters, letters), np.uint8), borderValue=0)
    closed = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    outlines, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    found = []
    for outline in outlines:
        area = cv2.contourArea(outline)
        x, y, w, h = cv2.boundingRect(outline)
        touches = x == 0 or y == 0 or x + w >= cut.shape[1] or y + h >= cut.shape[0]
        if touches or area < rules.least_cells * STEP_PX**2:
            continue
        _, (one, other), _ = cv2.minAreaRect(outline)
        if area < rules.strip_fill * one * other:
            continue
        field = np.zeros(cut.shape[:2], np.uint8)
        cv2.drawContours(field, [outline], -1, 1, cv2.FILLED)
        inside = field > 0
        # a patch over flat ground differs along its edges alone
        rim = (cv2.dilate(field, np.ones((7, 7), np.uint8)) - cv2.erode(field, np.ones((7, 7), np.uint8))) > 0
        if max(float(where[rim].mean()), float(where[inside].mean())) < rules.patch_held:
            continue
        share = float((ground[inside] > 0).mean())
        there = (float(at[0] + x), float(at[1] + y), float(at[0] + x + w), float(at[1] + y + h))
        found.append(_Patch(there, share, max(one, other) / max(1.0, min(one, other))))
    return found


def _levels(picture: Floats, rules: DifferRules) -> float:
    """Within so many levels a ground is of one tone: fewer on a picture of little contrast."""
    return rules.even_levels * float(np.clip(grey(picture)[::4, ::4].std() / _FULL_CONTRAST, 0.3, 1.2))


def _evenness(picture: Floats, box: tuple[float, float, float, float], levels: float) -> float:
    """The share of a place that is of one tone."""
    left, top, right, bottom = (round(v) for v in box)
    inner = picture[max(0, top + 2) : bottom - 2, max(0, left + 2) : right - 2].reshape(-1, 3)
    if len(inner) < 30:
        return 0.0
    return float((np.abs(inner - np.median(inner, axis=0)).max(axis=1) < levels).mean())


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


def _texts(lines: Sequence[tuple[str, Points]], box: tuple[float, float, float, float]) -> str:
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


def _cropped(ground: _Ground, a: Side, b: Side, rules: DifferRules) -> tuple[Difference, ...]:
    """Where one of the two shows a strip of the picture that the other does not, by at least ``rules.cropped`` of a
    side."""
    field = _box_of(ground.inside)
    shown = [
        _shown_beyond(side.pixels, to_frame, field)
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


def _shown_beyond(
    pixels: NDArray[np.uint8], to_frame: Matrix, field: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    """How far a picture goes on beyond the field to the left, top, right and bottom, in frame pixels: as far as
    something is drawn there. A bare margin, a rebate and the ground end it."""
    wide, high = field[2] - field[0], field[3] - field[1]
    reach = _BEYOND * max(wide, high)
    scale = _BEYOND_PX / max(wide, high)
    size = math.ceil((wide + 2 * reach) * scale), math.ceil((high + 2 * reach) * scale)
    share = min(1.0, 2 * _BEYOND_PX / max(pixels.shape[:2]))
    small = cv2.resize(pixels, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    shift = np.array([[scale, 0, (reach - field[0]) * scale], [0, scale, (reach - field[1]) * scale], [0, 0, 1.0]])
    laid = cv2.warpPerspective(small, shift @ to_frame @ np.diag([1 / share, 1 / share, 1.0]), size)
    plane = cv2.cvtColor(laid, cv2.COLOR_RGB2GRAY).astype(np.float32)
    drawn = np.abs(cv2.Sobel(plane, cv2.CV_32F, 1, 0)) + np.abs(cv2.Sobel(plane, cv2.CV_32F, 0, 1))
    drawn = np.minimum(drawn, 60)  # one hard edge, as of a margin, is no drawing
    left, top, right, bottom = (round(v * scale) for v in (reach, reach, reach + wide, reach + high))
    along = drawn[top:bottom].mean(axis=0), drawn[:, left:right].mean(axis=1)
    ends = []
    for profile, start, step in (
        (along[0], left, -1),
        (along[1], top, -1),
        (along[0], right, 1),
        (along[1], bottom, 1),
    ):
        inside = np.sort(profile[left:right] if profile is along[0] else profile[top:bottom])
        bar = _DRAWN * float(inside[len(inside) // 4])
        n, bare = 0, 0
        while 0 <= start + step * n < len(profile) and bare < 3:
            bare = 0 if profile[start + step * n] >= bar else bare + 1
            n += 1
        ends.append(max(0, n - bare) / scale)
    return ends[0], ends[1], ends[2], ends[3]


def _both_show(ground: _Ground, a: Side, b: Side) -> tuple[Box | None, Box | None]:
    corners = _corners(_box_of(ground.inside))
    return a.box(ground.over.on_a(corners)), b.box(ground.over.on_b(corners))


# ---- regions --------------------------------------------------------------------------------------------------------


MEASURES = ("peak", "mean", "area", "agreeing", "levels", "both", "filled", "patch", "element", "rim")


def measures(ground: _Ground, region: _Found) -> tuple[float, ...]:
    """Of a region, in the order of MEASURES: logarithms of its highest and mean score and of its cells; how far the
    pair agrees as a whole; the logarithm of what is untold in levels; how far both sides are untold; how much of its
    box is told by cells; whether it is a patch, whether an element was found again, and how much of it lies beside the
    rim."""
    cells = region.cells
    score = np.maximum(*ground.scores)[cells]
    untold = np.maximum(*(s * n for s, n in zip(ground.scores, ground.noise, strict=True)))[cells]
    has = [float((s[cells] > 1.5).mean()) for s in ground.scores]
    left, top, right, bottom = _box_of(cells)
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


def _certainty(ground: _Ground, region: _Found, rules: DifferRules) -> float:
    c = rules.certainty
    odds = c.start + sum(c.weights[name] * v for name, v in zip(MEASURES, measures(ground, region), strict=True))
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, odds))))


def _told(ground: _Ground, region: _Found, sure: float, a: Side, b: Side) -> Difference:
    on_a = a.box(ground.over.on_a(_corners(region.on_a)))
    on_b = b.box(ground.over.on_b(_corners(region.on_b)))
    factor = None if region.factor is None else round(region.factor, 4)
    return Difference(region.kind, on_a, on_b, round(sure, 4), region.words, factor)


def _hull(points: Points, shape: tuple[int, int], grow_px: int) -> Mask:
    made = np.zeros(shape, np.uint8)
    cv2.fillConvexPoly(made, cv2.convexHull((points / STEP_PX).round().astype(np.int32)), 1)
    side = 2 * (grow_px // STEP_PX) + 1
    return cv2.dilate(made, np.ones((side, side), np.uint8)) > 0


def _box_of(cells: Mask) -> tuple[float, float, float, float]:
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    return (
        float(columns[0] * STEP_PX), float(rows[0] * STEP_PX),
        float((columns[-1] + 1) * STEP_PX), float((rows[-1] + 1) * STEP_PX),
    )  # fmt: skip


def _tight(cells: Mask, rules: DifferRules) -> tuple[float, float, float, float]:
    """The box of the cells less what the window smears."""
    left, top, right, bottom = _box_of(cells)
    x, y = (max(0.0, min(rules.window_px / 3, (size - 8) / 2)) for size in (right - left, bottom - top))
    return left + x, top + y, right - x, bottom - y


def _corners(box: tuple[float, float, float, float]) -> Points:
    left, top, right, bottom = box
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float64)


def _whole_cells(
    box: tuple[float, float, float, float], window_px: int, size: tuple[int, int]
) -> tuple[int, int, int, int]:
    """The box grown by a window, from whole cells on, within the frame."""
    left, top = (max(0, (int(v) - window_px) // STEP_PX * STEP_PX) for v in box[:2])
    return left, top, min(size[1], int(box[2]) + window_px), min(size[0], int(box[3]) + window_px)
