"""Where two pictures of one frame agree, and what of either is untold by the other beyond what was to be expected."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import DifferRules
from intake.imaging.elements import same_places
from intake.imaging.geometry import Points
from intake.imaging.overlay import Overlay, bent, evened, flow, grey, settled, softened, with_tones_of
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

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
FrameBox = tuple[float, float, float, float]
STRONG = 8.0
_LEAST_NOISE = 1.0
_OUTER, _MOST_SLANT, _SLANT_GAIN = 0.03, 0.15, 0.6
_TONES = 10
_BEYOND_CELLS, _MOST_OF_A_LINE = 9, 0.35


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
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


def set_side_by_side(over: Overlay, rules: DifferRules, *, polarity_flip: bool) -> Ground | None:
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
) -> Ground | None:
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
    textured = inside & ((s.of_a > STRONG * noise[0]) | (s.of_b > STRONG * noise[1]))
    agreeing = float((np.maximum(*scores) < rules.flagged)[textured].mean()) if textured.any() else 0.0
    return Ground(over, places, alike, back, ways, (noise[0], noise[1]), usual, shows, scores, inside, agreeing)


def _usual(of: Floats, left: Floats, tone: Floats, own: float, cells: Mask) -> Floats:
    """The share of structure that is left untold at each tone where all is well: film and print hold some tones badly.

    It is the median within tenths of the cells by tone, so that a place that differs seldom rules one.
    """
    strong = cells & (of > STRONG * own)
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


def scores_with(ground: Ground, b: Floats, rules: DifferRules, where: tuple[int, int, int, int]) -> Floats:
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


def box_of(cells: Mask) -> FrameBox:
    """Left, top, right and bottom of cells in frame pixels."""
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    return (
        float(columns[0] * STEP_PX), float(rows[0] * STEP_PX),
        float((columns[-1] + 1) * STEP_PX), float((rows[-1] + 1) * STEP_PX),
    )  # fmt: skip


def whole_cells(box: FrameBox, window_px: int, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """The box grown by a window, from whole cells on, within the frame."""
    left, top = (max(0, (int(v) - window_px) // STEP_PX * STEP_PX) for v in box[:2])
    return left, top, min(size[1], int(box[2]) + window_px), min(size[0], int(box[3]) + window_px)


def hull_of(points: Points, shape: tuple[int, int], grow_px: int) -> Mask:
    """The cells within the hull of places (n, 2; frame pixels), grown by so much."""
    made = np.zeros(shape, np.uint8)
    cv2.fillConvexPoly(made, cv2.convexHull((points / STEP_PX).round().astype(np.int32)), 1)
    side = 2 * (grow_px // STEP_PX) + 1
    return cv2.dilate(made, np.ones((side, side), np.uint8)) > 0
