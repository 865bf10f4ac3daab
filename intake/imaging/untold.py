"""Where two pictures of one frame agree, and what of either is untold by the other beyond what was to be expected."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import DifferRules
from intake.imaging.elements import same_places
from intake.imaging.field import Edge, cells_within, edges_of, to_the_edge
from intake.imaging.geometry import Points
from intake.imaging.overlay import Overlay, Twins, bent, flow, grey, settled, softened, twins_of
from intake.imaging.structure import (
    STEP_PX,
    Structure,
    Ways,
    covariances,
    seen_cells,
    shared_ways,
    structure,
)

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
FrameBox = tuple[float, float, float, float]
Curve = tuple[Floats, Floats]  # at, says
STRONG = 8.0
_LEAST_NOISE, _LEAST_USUAL = 1.0, 0.08
_LEAST_SEEN, _LEAST_THERE, _HIDDEN = 0.5, 0.2, 4.0
_TONES, _STRENGTHS = 10, 8


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The two laid over one another, and how far each cell's structure is left untold (see ``_scores``).

    ``sharp``: the two before they were softened, where they were: the cuts of strips are looked for there.
    """

    over: Overlay
    sharp: Overlay
    places: tuple[Points, Points]
    twins: Twins
    ways: Ways
    noise: tuple[float, float]
    usual: tuple[Floats, Floats]
    gains: tuple[Curve, Curve]
    shows: tuple[Floats, Floats]
    scores: tuple[Floats, Floats]
    inside: Mask
    agreeing: float
    field: Floats
    edges: list[Edge]
    untold: float


def set_side_by_side(over: Overlay, rules: DifferRules, *, polarity_flip: bool) -> Ground | None:
    """Where another hand or a coarse screen leaves much untold, both are looked at softer."""
    twins = twins_of(over, polarity_flip=polarity_flip)
    pa, pb = same_places(*twins, rules.reach * max(over.seen.shape))
    over = bent(over, twins, pa, pb)
    over = settled(over, flow(*twins_of(over, polarity_flip=polarity_flip)), rules.slack_px)
    twins = twins_of(over, polarity_flip=polarity_flip)
    x, y = (np.clip(pb[:, k], 0, n - 1).astype(np.intp) for k, n in ((0, over.seen.shape[1]), (1, over.seen.shape[0])))
    places = pa, pb - over.bend[y, x]
    first = _told_apart(over, places, over.seen.astype(np.float32), rules, twins, whole=True)
    if first is None:
        return None
    one, other = (p.astype(np.float32) for p in twins)
    field = to_the_edge(first.edges, one, other, over.seen)
    ground = _told_apart(over, places, field, rules, twins)
    if ground is not None and ground.untold > rules.soften_from:
        soft = softened(over, field, rules.soften_px)
        told = _told_apart(soft, places, field, rules, twins_of(soft, polarity_flip=polarity_flip))
        return replace(told, sharp=over) if told else None
    return ground


def _told_apart(
    over: Overlay, places: tuple[Points, Points], field: Floats, rules: DifferRules, twins: Twins, *,
    whole: bool = False,
) -> Ground | None:  # fmt: skip
    """``whole``: the field is all that both show; the part that both fill is still to be told."""
    cells = seen_cells(field, rules.window_px, 1 - 1e-4 if whole else _LEAST_SEEN)
    if not cells.any():
        return None
    both = covariances(over.a, over.b, field, rules.window_px)
    ways = shared_ways(both, cells, rules.noise, rules.least_shared)
    s = structure(both, ways, rules.noise)
    noise = _noise(s, cells, rules)
    tones = _tone(over.a, rules), _tone(over.b, rules)
    gains = _gain(s.of_a, s.of_b, tones[0], noise[0], cells), _gain(s.of_b, s.of_a, tones[1], noise[1], cells)
    shows = _as_shown(s.of_a, tones[0], gains[0]), _as_shown(s.of_b, tones[1], gains[1])
    # what one of them hides altogether says nothing of what is usual
    there = cells & ~_hidden(s, shows)
    if there.sum() > _LEAST_THERE * cells.sum():
        noise = _noise(s, there, rules)
    else:
        there = cells
    # usual leavings are told where the two agree: first over all, then within the part that does
    inside, edges = cells, None
    scores = s.left_a, s.left_b
    hidden = noise[1] / (shows[0] + noise[1]), noise[0] / (shows[1] + noise[0])
    for _ in range(2 if whole else 1):
        usual = (
            _usual(s.of_a, s.left_a - s.of_a * hidden[0], tones[0], noise[0], inside & there),
            _usual(s.of_b, s.left_b - s.of_b * hidden[1], tones[1], noise[1], inside & there),
        )
        scores = _scores(s, shows, noise, usual)
        if whole:
            differ = np.maximum(*scores) > rules.flagged
            quiet = s.of_a < noise[0], s.of_b < noise[1]
            edges = edges_of(_agreeing(s, scores, noise, cells), cells, differ, quiet, rules.rim_px // STEP_PX)
            if edges is None:
                return None
            inside = cells_within(edges, cells)
        if not inside.any():
            return None
    untold = max(
        _untold(s.of_a, s.left_a, noise[0], inside & there), _untold(s.of_b, s.left_b, noise[1], inside & there)
    )
    textured = inside & ((s.of_a > STRONG * noise[0]) | (s.of_b > STRONG * noise[1]))
    agreeing = float((np.maximum(*scores) < rules.flagged)[textured].mean()) if textured.any() else 0.0
    return Ground(
        over,
        over,
        places,
        twins,
        ways,
        noise,
        usual,
        gains,
        shows,
        scores,
        inside,
        agreeing,
        field,
        edges or [],
        untold,
    )


def _untold(of: Floats, left: Floats, own: float, cells: Mask) -> float:
    """The share of structure that is left untold at a middling place, noise and another hand in it."""
    strong = cells & (of > STRONG * own)
    return float(np.median(left[strong] / of[strong])) if strong.any() else 0.0


def _gain(of: Floats, other: Floats, tone: Floats, own: float, cells: Mask) -> Curve:
    """How much of its structure the other picture shows, at each tone: film and print hold some tones badly. No curve
    of tones is asked, which another palette does not have."""
    strong = cells & (of > STRONG * own)
    if not strong.any():
        return np.zeros(1, np.float32), np.ones(1, np.float32)
    return _middles(tone[strong], other[strong] / of[strong], _TONES)


def _as_shown(of: Floats, tone: Floats, gain: Curve) -> Floats:
    """The structure that the other picture should show."""
    return np.asarray(of * np.interp(tone, *gain), np.float32)


def _noise(s: Structure, cells: Mask, rules: DifferRules) -> tuple[float, float]:
    one, two = (max(_LEAST_NOISE, float(np.quantile(x[cells], rules.quiet_quantile))) for x in (s.left_a, s.left_b))
    return one, two


def _hidden(s: Structure, shows: tuple[Floats, Floats]) -> Mask:
    """Where the one is flat and should not be, by what the other shows there."""
    return (shows[0] > _HIDDEN * (s.of_b + _LEAST_NOISE)) & (s.of_a > STRONG * _LEAST_NOISE) | (
        (shows[1] > _HIDDEN * (s.of_a + _LEAST_NOISE)) & (s.of_b > STRONG * _LEAST_NOISE)
    )


def _usual(of: Floats, left: Floats, tone: Floats, own: float, cells: Mask) -> Floats:
    """The share of structure that is left untold where all is well, at each strength and each tone.

    Another hand's brush leaves weak structure untold and strong structure told; film and print hold some tones badly.
    Medians within equally full bins of the cells, so that a place that differs seldom rules one: first by strength,
    where strong structure is never less told than weaker, then by how much each tone is above that.
    """
    some = cells & (of > own)
    if some.sum() < 20 * _TONES:
        return np.full(of.shape, 0.3, np.float32)
    shares, strength = np.maximum(left[some] - own, 0) / of[some], np.log(of[some])
    at, says = _middles(strength, shares, _STRENGTHS)
    says[1:] = np.minimum(says[1:], np.maximum.accumulate(says)[:-1])
    usual = np.maximum(np.interp(np.log(np.maximum(of, 1e-3)), at, says), _LEAST_USUAL)
    strong = cells & (of > STRONG * own)
    if strong.sum() >= 20 * _TONES:
        above = np.maximum(left[strong] - own, 0) / of[strong] / usual[strong]
        usual *= np.maximum(np.interp(tone, *_middles(tone[strong], above, _TONES)), 1)
    return np.minimum(usual, 1).astype(np.float32)


def _middles(at: Floats, values: Floats, bins: int) -> tuple[Floats, Floats]:
    """The middles of equally full bins along ``at``, and those of the values within them."""
    edges = np.quantile(at, np.linspace(0, 1, bins + 1))
    held = np.clip(np.searchsorted(edges, at, "right") - 1, 0, bins - 1)
    full = [n for n in range(bins) if (held == n).any()]
    middles = [np.array([float(np.median(x[held == n])) for n in full], np.float32) for x in (at, values)]
    return middles[0], middles[1]


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


def _agreeing(s: Structure, scores: tuple[Floats, Floats], noise: tuple[float, float], cells: Mask) -> Mask:
    textured = (s.of_a > 3 * noise[0]) & (s.of_b > 3 * noise[1])
    agree = (textured & cells & (np.maximum(*scores) < 1.2)).astype(np.uint8)
    return cv2.morphologyEx(agree, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0


def scores_with(ground: Ground, b: Floats, rules: DifferRules, where: tuple[int, int, int, int]) -> Floats:
    """The larger score of each cell with another b in place, within ``where`` (left, top, right, bottom; frame pixels,
    whole cells), elsewhere infinite."""
    left, top, right, bottom = where
    cut = (slice(top, bottom), slice(left, right))
    field = ground.field[cut]
    both = covariances(ground.over.a[cut], b[cut], field, rules.window_px)
    s = structure(both, ground.ways, rules.noise)
    at = (
        slice(top // STEP_PX, top // STEP_PX + s.of_a.shape[0]),
        slice(left // STEP_PX, left // STEP_PX + s.of_a.shape[1]),
    )
    out = np.full(ground.inside.shape, np.inf, np.float32)
    shows_b = _as_shown(s.of_b, _tone(b[cut], rules), ground.gains[1])
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
