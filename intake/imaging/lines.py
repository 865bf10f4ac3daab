"""Lines of text as slanting rectangles: which way they may be read, cut out upright, and told from repeats.

A quad is (4, 2) float32 corners. An *order* is a quad whose corners run top left, top right, bottom right, bottom left
as its text is read; on a mirrored picture that runs anticlockwise.
"""

from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box

Quad = NDArray[np.float32]
Picture = NDArray[np.uint8]
_SQUARISH = 1.4
_LONGEST_RATIO = 60.0
_SAME_LINE, _NO_HIGHER = 0.33, 1.3
_ALIKE, _OFF_AXIS = (0.6, 1.5), 0.3


def size_of(quad: Quad) -> tuple[float, float]:
    """Return the quad's long and short side."""
    a, b = float(np.linalg.norm(quad[1] - quad[0])), float(np.linalg.norm(quad[2] - quad[1]))
    return max(a, b), min(a, b)


def orders_of(quad: Quad) -> list[Quad]:
    """Return all eight orders of a quad: from each corner, along either side."""
    x, y = quad[:, 0], quad[:, 1]
    clockwise = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) > 0
    ring = quad if clockwise else quad[::-1]
    straight = [np.roll(ring, -i, axis=0) for i in range(4)]
    return straight + [order[[1, 0, 3, 2]] for order in straight]


def turn_of(order: Quad) -> tuple[int, bool]:
    """Return (rotation, mirrored): what sets a picture upright whose text runs as ``order`` says.

    The picture is mirrored left-right first if ``mirrored``, then turned ``rotation`` degrees clockwise.
    """
    along, down = order[1] - order[0], order[3] - order[0]
    mirrored = bool(along[0] * down[1] - along[1] * down[0] < 0)
    angle = np.degrees(np.arctan2(along[1], -along[0] if mirrored else along[0]))
    return int(-round(float(angle) / 90) * 90) % 360, mirrored


def lengthwise(quad: Quad) -> list[Quad]:
    """Return the four orders in which a line along the quad's long side may be read."""
    return [o for o in orders_of(quad) if np.linalg.norm(o[1] - o[0]) >= np.linalg.norm(o[3] - o[0])][:4]


def middle_of(order: Quad, longest_ratio: float) -> Quad:
    """Return the middle stretch of a line, at most ``longest_ratio`` times as long as it is high."""
    wide, high = np.linalg.norm(order[1] - order[0]), np.linalg.norm(order[3] - order[0])
    share = min(1.0, longest_ratio * float(high) / max(float(wide), 1e-3))
    along = (order[1] - order[0]) * np.float32((1 - share) / 2)
    return (order + np.stack([along, -along, -along, along])).astype(np.float32)


def widened(order: Quad, along: float, across: float) -> Quad:
    """Return the line with so many of its heights more at both ends, and above and below."""
    right, down = order[1] - order[0], order[3] - order[0]
    high = float(np.linalg.norm(down))
    right, down = right / max(float(np.linalg.norm(right)), 1e-3) * high, down
    moves = np.array([(-along, -across), (along, -across), (along, across), (-along, across)], np.float32)
    return (order + moves[:, :1] * right + moves[:, 1:] * down).astype(np.float32)


def carried(quad: Quad, size: tuple[int, int], order: Quad) -> Quad:
    """Carry a quad found on the cut-out of ``order``, of ``size`` (wide, high) pixels, back to where that was cut."""
    right, down = (order[1] - order[0]) / size[0], (order[3] - order[0]) / size[1]
    return (order[0] + quad[:, :1] * right + quad[:, 1:] * down).astype(np.float32)


def continues(line: Quad, other: Quad) -> bool:
    """Tell whether ``other`` is on the same line as ``line``, and holds its middle: of like height, along one axis."""
    right = line[1] - line[0]
    long, high = float(np.linalg.norm(right)), float(np.linalg.norm(line[3] - line[0]))
    if long < 1 or high < 1 or not _ALIKE[0] < size_of(other)[1] / high < _ALIKE[1]:
        return False
    right, down = right / long, (line[3] - line[0]) / high
    away = (other.mean(axis=0) - line.mean(axis=0)) @ down
    ends = (other - line.mean(axis=0)) @ right
    return bool(abs(away) < _OFF_AXIS * high and ends.min() < 0 < ends.max())


def runs_into(line: Quad, longer: Quad, other: Quad) -> bool:
    """Tell whether ``longer`` holds the middle of ``other``, a line by itself: over a height away from ``line``."""
    right = line[1] - line[0]
    long, high = float(np.linalg.norm(right)), float(np.linalg.norm(line[3] - line[0]))
    if not lies_in(other, longer) or long < 1:
        return False
    ends = (other - line.mean(axis=0)) @ (right / long)
    return bool(max(ends.min() - long / 2, -long / 2 - ends.max()) > high)


def orders_upright(quad: Quad, rotation: int, mirrored: bool) -> list[Quad]:
    """Return the orders worth reading once the part's turn is known: one, or two for a line that stands on end."""
    long, short = size_of(quad)
    orders = orders_of(quad) if long < short * _SQUARISH else lengthwise(quad)
    fitting = [o for o in orders if turn_of(o) == (rotation, mirrored)]
    return fitting[:1] or [o for o in orders if turn_of(o)[1] == mirrored]


def lies_in(quad: Quad, other: Quad) -> bool:
    """Tell whether the quad's middle lies in the upright box of the other, and it is not much longer."""
    x, y = quad.mean(axis=0)
    (left, top), (right, bottom) = other.min(axis=0), other.max(axis=0)
    return bool(left <= x <= right and top <= y <= bottom) and size_of(quad)[0] < 1.5 * size_of(other)[0]


def is_detail_of(quad: Quad, line: Quad) -> bool:
    """Tell whether the quad's middle lies in a line of clearly larger letters."""
    x, y = (float(v) for v in quad.mean(axis=0))
    return size_of(line)[1] > 1.2 * size_of(quad)[1] and cv2.pointPolygonTest(line, (x, y), False) >= 0


def cut_out(order: Quad, crop: Callable[[Box, int | None], Picture], page: Box, height_px: int) -> Picture:
    """Return the line upright, (h, w, 3) with h <= ``height_px``; ``crop`` gives a box of the picture, made smaller.

    What lies beyond ``page`` is its edge drawn on; a line wholly outside comes back as one pixel.
    """
    wide, high = float(np.linalg.norm(order[1] - order[0])), float(np.linalg.norm(order[3] - order[0]))
    box = _clipped(box_of(order), page)
    if box.width < 1 or box.height < 1:
        return np.zeros((1, 1, 3), np.uint8)
    shrink = min(1.0, height_px * 1.25 / max(high, 1.0))
    patch = crop(box, None if shrink == 1.0 else max(8, int(np.ceil(max(box.width, box.height) * shrink))))
    scale = patch.shape[1] / box.width
    out_high = int(np.clip(round(high * min(1.0, height_px / max(high, 1.0))), 2, height_px))
    out_wide = int(np.clip(round(out_high * min(wide / max(high, 1e-3), _LONGEST_RATIO)), 2, None))
    source = np.array((order[[0, 1, 3]] - (box.left, box.top)) * scale, np.float32)
    target = np.array([[0, 0], [out_wide, 0], [0, out_high]], np.float32)
    matrix = cv2.getAffineTransform(source, target)
    return cv2.warpAffine(patch, matrix, (out_wide, out_high), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def _clipped(box: Box, page: Box) -> Box:
    left, top = max(page.left, box.left), max(page.top, box.top)
    right = min(page.left + page.width, box.left + box.width)
    return Box(left, top, right - left, min(page.top + page.height, box.top + box.height) - top)


def box_of(quad: Quad) -> Box:
    """Return the whole pixels that hold the quad."""
    (left, top), (right, bottom) = np.floor(quad.min(axis=0)), np.ceil(quad.max(axis=0))
    return Box(int(left), int(top), max(1, int(right - left)), max(1, int(bottom - top)))


def without_repeats(quads: Sequence[Quad]) -> list[Quad]:
    """Drop each quad that those before it cover by half: the first of several finds of one line is kept."""
    kept: list[Quad] = []
    rects: list[tuple[tuple[float, float], tuple[float, float], float]] = []
    bounds = np.full((len(quads), 4), np.nan, np.float32)
    for quad in quads:
        rect = cv2.minAreaRect(quad)
        low, high = quad.min(axis=0), quad.max(axis=0)
        near = np.flatnonzero(
            (bounds[:, 0] < high[0]) & (bounds[:, 2] > low[0]) & (bounds[:, 1] < high[1]) & (bounds[:, 3] > low[1])
        )
        area = max(1e-3, rect[1][0] * rect[1][1])
        if sum(_shared(rect, rects[i]) for i in near) > 0.5 * area:
            continue
        kept.append(quad)
        rects.append(rect)
        bounds[len(kept) - 1] = (*low, *high)
    return kept


def stitched(cut: Sequence[Quad], others: Sequence[Quad]) -> list[Quad]:
    """Return each line that was cut lengthwise, grown to hold what another look saw of it; the longest first.

    Two finds are of one line where they share a third of the smaller, run the same way, and make no higher line.
    """
    whole = []
    for quad in cut:
        for other in others:
            joined = cv2.boxPoints(cv2.minAreaRect(np.concatenate([quad, other])))
            a, b = cv2.minAreaRect(quad), cv2.minAreaRect(other)
            smaller = max(1e-3, min(a[1][0] * a[1][1], b[1][0] * b[1][1]))
            is_one_line = size_of(joined)[1] < _NO_HIGHER * max(size_of(quad)[1], size_of(other)[1])
            if is_one_line and _shared(a, b) > _SAME_LINE * smaller:
                quad = joined.astype(np.float32)
        whole.append(quad)
    return sorted(whole, key=lambda q: -size_of(q)[0])


def _shared(
    a: tuple[tuple[float, float], tuple[float, float], float], b: tuple[tuple[float, float], tuple[float, float], float]
) -> float:
    how, points = cv2.rotatedRectangleIntersection(a, b)
    return float(cv2.contourArea(cv2.convexHull(points))) if how != cv2.INTERSECT_NONE and points is not None else 0.0
