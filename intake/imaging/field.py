"""The part of a frame that two pictures of one design both fill: borders, rebates and grounds are no part of it.

First in cells, by where a whole line of cells beside a side differs; then to the pixel, by whether lines beside that
side still go together. What is signed or printed at a picture's very edge is then looked at as well.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.structure import STEP_PX

Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
_OUTER, _MOST_SLANT, _SLANT_GAIN = 0.03, 0.15, 0.6
_MOST_OF_A_LINE, _ALL_OF_A_LINE, _BARE, _BESIDE_CELLS = 0.35, 0.95, 0.75, 9
_OUT_PX, _IN_PX, _PLAIN_PX = 40, 60, 41
_SURE, _STILL, _BRIDGED, _EDGE_PX = 0.4, 0.6, 5, 4
_LEAST_PX, _LEAN_PX, _PARTS = 60, 12, 4


@dataclass(frozen=True, slots=True)
class Edge:
    """One side of the field. A place lies ``sign * across - slope * along - start`` within it, in cells; ``level``
    sides go along x. ``ends`` is how far within (or, below 0, beyond) the line the picture ends."""

    level: bool
    sign: int
    slope: float
    start: float
    ends: int


def edges_of(agree: Mask, cells: Mask, flagged: Mask, quiet: tuple[Mask, Mask], rim_cells: int) -> list[Edge] | None:
    """The four sides of what agrees, each a line of cells; None where too little does.

    ``quiet``: where either picture shows nothing, as a border does all along a side.
    """
    if agree.sum() < 20:
        return None
    made = []
    for level in (True, False):
        some, seen, differ, bare_a, bare_b = ((x if level else x.T) for x in (agree, cells, flagged, *quiet))
        lanes = np.flatnonzero(some.sum(axis=0) >= 3)
        if len(lanes) < 8:
            return None
        first = some[:, lanes].argmax(axis=0).astype(np.float64)
        last = some.shape[0] - 1 - some[::-1, lanes].argmax(axis=0).astype(np.float64)
        across, along = np.mgrid[: some.shape[0], : some.shape[1]]
        for ends, sign in ((first, 1), (-last, -1)):
            slope, start = _outer_line(lanes, ends)
            within = np.rint(sign * across - slope * along - start).astype(np.intp)
            made.append(Edge(level, sign, slope, start, _ends_at(within, seen, differ, (bare_a, bare_b), rim_cells)))
    return made


def cells_within(edges: list[Edge], cells: Mask) -> Mask:
    """The cells within all four sides."""
    field = cells.copy()
    y, x = np.mgrid[: cells.shape[0], : cells.shape[1]]
    for e in edges:
        along, across = (x, y) if e.level else (y, x)
        field &= np.rint(e.sign * across - e.slope * along - e.start) >= e.ends
    return field


def to_the_edge(edges: list[Edge], one: Floats, other: Floats, seen: Mask) -> Floats:
    """(h, w) float32, 1 in the field, to the pixel. ``one`` and ``other`` are (h, w) and alike in tone."""
    h, w = seen.shape
    y, x = np.mgrid[:h, :w].astype(np.float32)
    field = seen.copy()
    box = [0, h, 0, w]
    for k, e in enumerate(edges):
        box[k] = int(np.clip(e.sign * (e.start + e.ends) * STEP_PX, 0, (h, w)[not e.level]))
    for e in edges:
        along, across = (x, y) if e.level else (y, x)
        start = STEP_PX * e.start + STEP_PX / 2 * (e.sign - e.slope)
        low, high = (box[2], box[3]) if e.level else (box[0], box[1])
        middle = (low + high) // 2
        ends: float | Floats = e.ends * STEP_PX
        # looked for about what agrees, or where the picture goes on far beyond that, about its end
        about = start if e.ends * STEP_PX >= -_OUT_PX else start + e.ends * STEP_PX
        told, *halves = (
            _last_alike(e, about, span, one, other, seen) for span in ((low, high), (low, middle), (middle, high))
        )
        if told is None:
            about = start
        else:
            near = [x for x in halves if x is not None and abs(x - told) <= _LEAN_PX]
            # the middles of the halves lie half of the side apart
            lean = 2 * (near[1] - near[0]) / max(1, high - low) if len(near) == 2 else 0.0
            # what differs beside one half of a side does not end the picture where the other half still agrees
            furthest = min([told, *(x for x in halves if x is not None)])
            ends = (sum(near) / 2 if len(near) == 2 else furthest) + lean * (along - middle)
        field &= e.sign * across - e.slope * along - about >= ends
    return field.astype(np.float32)


def _last_alike(e: Edge, start: float, span: tuple[int, int], one: Floats, other: Floats, seen: Mask) -> float | None:
    """How far within a side the two last go together, line by line from the inside; None where lines tell nothing."""
    low, high = span
    if high - low < _LEAST_PX:
        return None
    along = np.arange(low + 0.04 * (high - low), high - 0.04 * (high - low), dtype=np.float32)
    steps = np.arange(-_OUT_PX, _IN_PX + 1)
    across = (e.sign * (steps[:, None] + e.slope * along[None] + start)).astype(np.float32)
    along = np.repeat(along[None], len(steps), axis=0)
    at_x, at_y = (along, across) if e.level else (across, along)
    held = cv2.remap(seen.astype(np.uint8), at_x, at_y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT) > 0
    lines = []
    for plane in (one, other):
        line = cv2.remap(plane, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        lines.append(np.where(held, line - cv2.blur(line, (_PLAIN_PX, 1)), 0))
    alike = _alike(lines[0], lines[1]) * (held.mean(axis=1) > 0.5)
    inner = float(np.median(alike[_OUT_PX + _IN_PX // 2 :]))
    if inner < _SURE:
        return None
    last = None
    for k in range(len(steps) - 1, -1, -1):
        if alike[k] >= _STILL * inner:
            last = k
        elif last is not None and last - k > _BRIDGED:
            break
    return None if last is None else float(steps[last] + _EDGE_PX)


def _alike(one: Floats, other: Floats) -> Floats:
    """(n,) how far the lines (n, m) of two pictures go together: the better half of their quarters, as what differs
    beside a side seldom goes all along it."""
    quarters = []
    for p, q in zip(np.array_split(one, _PARTS, axis=1), np.array_split(other, _PARTS, axis=1), strict=True):
        both, own, others = (cv2.blur(x.mean(axis=1, keepdims=True), (1, 3))[:, 0] for x in (p * q, p * p, q * q))
        quarters.append(both / np.sqrt((own + 1) * (others + 1)))
    return np.asarray(np.sort(quarters, axis=0)[_PARTS // 2 :].mean(axis=0), np.float32)


def _ends_at(within: NDArray[np.intp], cells: Mask, flagged: Mask, quiet: tuple[Mask, Mask], rim_cells: int) -> int:
    """How many lines of cells within (or, below 0, beyond) a side of what agrees the picture ends: where all of a line
    differs, or most of it and either picture is bare a little further out, or all further out differs as well.

    Another hand's ground seldom agrees, and what is covered differs all along a line, but neither ends a picture.
    """
    first = int(within[cells].min())
    lines = within[cells] - first
    many = np.maximum(np.bincount(lines), 1)
    differs, *bare = (np.bincount(lines, weights=x[cells]) / many for x in (flagged, *quiet))
    differ = differs > _MOST_OF_A_LINE
    beside = np.convolve(np.maximum(*bare) > _BARE, np.ones(_BESIDE_CELLS))[: len(many)] > 0
    ended = differ & (beside | np.logical_and.accumulate(differ)) | (differs > _ALL_OF_A_LINE)
    last = np.flatnonzero(ended[: max(0, rim_cells + 4 - first)])
    return first + rim_cells + (int(last[-1]) + 1 if len(last) else 0)


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
