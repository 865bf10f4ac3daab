"""A piece's rim against the rectangle that it should fill: where what it lies on shows within it.

The piece is laid square with some ground round it. The ground beside each side is what it is compared with, so bed,
black cloth and linen backing are one case.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.levels import largest
from intake.imaging.outline import Corners

Picture = NDArray[np.uint8]
Mask = NDArray[np.bool_]
_GROUND_MM, _AWAY_MM = 6.0, 2.0
_INSIDE_MM = (1.5, 4.0)
_LEAST_LEVELS, _SPREADS = 10.0, 2.0
# paper at least so much lighter than the ground is told from it, torn rims and shadow notwithstanding
_LIGHTER = 30.0
# ground within a gap lies in the paper's shadow: as dark as this share of it, of one hue
_SHADOW = 0.5


@dataclass(frozen=True, slots=True)
class Laid:
    """A piece laid square. ``picture`` (h, w, 3) has ``pad`` (left, top, right, bottom) pixels of ground round it;
    ``matrix`` takes pixels of the working image to its pixels."""

    picture: Picture
    matrix: NDArray[np.float64]
    px_per_mm: float
    pad: tuple[int, int, int, int]

    @property
    def inside(self) -> tuple[slice, slice]:
        """Rows and columns of the piece itself."""
        left, top, right, bottom = self.pad
        high, wide = self.picture.shape[:2]
        return slice(top, high - bottom), slice(left, wide - right)


@dataclass(frozen=True, slots=True)
class Gap:
    """Ground that shows within the rectangle. ``box`` (left, top, right, bottom) in pixels of the laid piece without
    its ground, ``sides`` those it opens on (0 top, 1 right, 2 bottom, 3 left); lengths in mm, area in square mm."""

    box: tuple[int, int, int, int]
    sides: tuple[int, ...]
    wide_mm: float
    deep_mm: float
    area_mm2: float
    bare: float


def laid(image: Picture, corners: Corners, px_per_mm: float) -> Laid:
    """Lay the piece within ``corners`` (4, 2; of ``image``) square, with up to 6 mm of what it lies on round it."""
    wide, high = (float(np.hypot(*(corners[n] - corners[0]))) for n in (1, 3))
    room = _GROUND_MM * px_per_mm
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    beside = (x0, y0, image.shape[1] - x1, image.shape[0] - y1)
    left, top, right, bottom = (max(0, min(round(room), int(v))) for v in beside)
    target = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32) + np.array([left, top], np.float32)
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), target)
    size = (round(wide) + left + right, round(high) + top + bottom)
    flat = cv2.warpPerspective(image, matrix, size, borderMode=cv2.BORDER_REPLICATE)
    return Laid(np.asarray(flat, np.uint8), np.asarray(matrix, np.float64), px_per_mm, (left, top, right, bottom))


@dataclass(frozen=True, slots=True)
class Ground:
    """Where on a laid piece (with its ground) what it lies on ``shows``; the ``sides`` that could be told from it."""

    shows: Mask
    sides: frozenset[int]


def gaps(piece: Laid, ground: Ground, least_mm: float) -> list[Gap]:
    """Return the gaps that are deeper than ``least_mm``."""
    shows, told = ground.shows, ground.sides
    if not told:
        return []
    rows, columns = piece.inside
    _, labels = cv2.connectedComponents(shows.astype(np.uint8), connectivity=4)
    outer = np.ones(shows.shape, bool)
    outer[rows, columns] = False
    from_outside = np.zeros(int(labels.max()) + 1, bool)
    from_outside[np.unique(labels[outer & shows])] = True
    from_outside[0] = False
    inner = from_outside[labels][rows, columns]
    high, wide = inner.shape
    skin = max(1, round(least_mm * piece.px_per_mm))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(inner.astype(np.uint8), connectivity=8)
    found = []
    for number in range(1, count):
        left, top, w, h, _ = (int(v) for v in stats[number])
        right, bottom = left + w, top + h
        # parts of the skin hang together along a side: what is deeper is looked at by itself
        deeper = _cores(parts[top:bottom, left:right] == number, (left, top), inner.shape, skin)
        for x0, y0, x1, y1, size in deeper:
            reach = (y1, wide - x0, high - y0, x1)
            sides = tuple(s for s, near in enumerate((y0, wide - x1, high - y1, x0)) if near <= skin and s in told)
            if not sides:
                continue
            side = min(sides, key=lambda s: reach[s])
            along = (x1 - x0) if side in (0, 2) else (y1 - y0)
            found.append(
                Gap(
                    (x0, y0, x1, y1),
                    sides,
                    along / piece.px_per_mm,
                    reach[side] / piece.px_per_mm,
                    size / piece.px_per_mm**2,
                    _rim_light(piece.picture[rows, columns], (x0, y0, x1, y1), inner),
                )
            )
    return found


def holes(piece: Laid, ground: Ground, places: list[tuple[float, float]], reach_mm: float) -> list[Gap]:
    """Return where the ground shows within the piece near ``places`` (pixels of the piece), open on no side."""
    rows, columns = piece.inside
    inner = np.ascontiguousarray(ground.shows[rows, columns])
    picture = piece.picture[rows, columns]
    reach = round(reach_mm * piece.px_per_mm)
    found = []
    for x, y in places:
        left, top = max(0, round(x) - 2 * reach), max(0, round(y) - 2 * reach)
        window = np.asarray(inner[top : top + 4 * reach, left : left + 4 * reach], np.uint8)
        count, labels, stats, middles = cv2.connectedComponentsWithStats(window, connectivity=4)
        for number in range(1, count):
            w0, h0, w, h, area = (int(v) for v in stats[number])
            is_cut = w0 == 0 or h0 == 0 or w0 + w == window.shape[1] or h0 + h == window.shape[0]
            away = np.hypot(*(middles[number] + (left - x, top - y)))
            if is_cut or away > reach:
                continue
            box = (left + w0, top + h0, left + w0 + w, top + h0 + h)
            around = cv2.dilate((labels == number).astype(np.uint8), np.ones((3, 3))) > 0
            light = picture[top : top + window.shape[0], left : left + window.shape[1]]
            edge = light[around & (labels != number)].mean() - light[labels == number].mean()
            mm = piece.px_per_mm
            found.append(Gap(box, (), w / mm, h / mm, area / mm**2, float(edge)))
    return found


def ground_of(piece: Laid, tell: float) -> Ground:
    """Return where the ground shows.

    A side is told when the paper just within it is clearly lighter than the ground beside it, and at least the share
    ``tell`` of it differs from that.
    """
    picture, mm = piece.picture, piece.px_per_mm
    high, wide = picture.shape[:2]
    rows, columns = piece.inside
    away, (first, last) = max(1, round(_AWAY_MM * mm)), (max(1, round(v * mm)) for v in _INSIDE_MM)
    left, top, right, bottom = piece.pad
    soft = np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.7), np.uint8)
    bands = (
        (soft[: max(0, top - away)], soft[rows.start + first : rows.start + last, columns]),
        (soft[:, wide - max(0, right - away) :], soft[rows, columns.stop - last : columns.stop - first]),
        (soft[high - max(0, bottom - away) :], soft[rows.stop - last : rows.stop - first, columns]),
        (soft[:, : max(0, left - away)], soft[rows, columns.start + first : columns.start + last]),
    )
    colours, limits = np.zeros((4, 3), np.float32), np.full(4, -1.0, np.float32)
    for side, (outer, inner) in enumerate(bands):
        if min(outer.shape[:2]) < 2 or min(inner.shape[:2]) < 1:
            continue
        flat = outer.reshape(-1, 3).astype(np.float32)
        colour = np.median(flat, axis=0)
        limit = max(_LEAST_LEVELS, _SPREADS * float(np.percentile(np.abs(flat - colour).max(axis=1), 80)))
        paper = np.median(inner.reshape(-1, 3), axis=0)
        is_like = _like(inner, np.broadcast_to(colour, inner.shape), np.float32(limit))
        if float(paper.max() - colour.max()) >= _LIGHTER and float(is_like.mean()) <= 1 - tell:
            colours[side], limits[side] = colour, limit
    sides = frozenset(int(s) for s in np.flatnonzero(limits > 0))
    if not sides:
        return Ground(np.zeros((high, wide), bool), sides)
    near = _nearest(piece)
    shows = _like(soft, colours[near], limits[near])
    shows[: rows.start], shows[rows.stop :] = True, True
    shows[:, : columns.start], shows[:, columns.stop :] = True, True
    return Ground(shows, sides)


def _nearest(piece: Laid) -> NDArray[np.uint8]:
    """Which side each pixel is nearest to."""
    rows, columns = piece.inside
    high, wide = piece.picture.shape[:2]
    y, x = np.ogrid[0:high, 0:wide]
    ends = np.where(y - rows.start <= rows.stop - y, 0, 2)
    flanks = np.where(columns.stop - x <= x - columns.start, 1, 3)
    to_end = np.minimum(y - rows.start, rows.stop - y)
    to_flank = np.minimum(x - columns.start, columns.stop - x)
    return np.where(to_end <= to_flank, ends, flanks).astype(np.uint8)


def _like(picture: Picture, ground: NDArray[np.float32], limit: NDArray[np.float32] | np.float32) -> Mask:
    """Is it the ground, or the ground in a shadow?"""
    light = cv2.transform(picture, np.full((1, 3), 1 / 3, np.float32)).astype(np.float32)
    share = np.clip(light / np.maximum(ground[..., 1], 1.0), _SHADOW, 1.0)
    away = np.zeros(share.shape, np.float32)
    for channel in range(3):
        away = np.maximum(away, np.abs(picture[..., channel] - share * ground[..., channel]))
    return np.asarray(away <= limit)


def _cores(part: Mask, at: tuple[int, int], shape: tuple[int, ...], skin: int) -> list[tuple[int, int, int, int, int]]:
    """Boxes (left, top, right, bottom, pixels) of what of a part lies deeper than ``skin`` within the piece."""
    left, top = at
    ys = np.arange(top, top + part.shape[0])
    xs = np.arange(left, left + part.shape[1])
    deep_y = (ys >= skin) & (ys < shape[0] - skin)
    deep_x = (xs >= skin) & (xs < shape[1] - skin)
    core = (part & deep_y[:, None] & deep_x[None]).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(core, connectivity=8)
    made = []
    for number in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[number])
        made.append((left + x, top + y, left + x + w, top + y + h, area))
    return made


def _rim_light(picture: Picture, box: tuple[int, int, int, int], ground: Mask) -> float:
    """How much lighter the paper is right at the gap than the ground in it, in levels."""
    x0, y0, x1, y1 = box
    rows, columns = slice(max(0, y0 - 2), y1 + 2), slice(max(0, x0 - 2), x1 + 2)
    gap = ground[rows, columns]
    edge = (cv2.dilate(gap.astype(np.uint8), np.ones((3, 3))) > 0) & ~gap
    if not edge.any() or not gap.any():
        return 0.0
    light = largest(np.ascontiguousarray(picture[rows, columns])).astype(np.float32)
    return float(light[edge].mean() - light[gap].mean())
