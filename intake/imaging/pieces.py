"""How many pieces lie on one page: several alike on a bed, or one."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.check import CheckRules
from intake.imaging.bed import find_bed, not_bed, shadows
from intake.imaging.outline import Thing, find_things
from intake.model import Box

_LOOK_PX = 1200
_SPECK_SHARE = 0.0004


def find_pieces(overview: NDArray[np.uint8], whole: Box, rules: CheckRules) -> tuple[Box, ...]:
    """Return one box for each piece on a page in stored pixels, in reading order; the whole page when it is one piece.

    A box takes in a little bed, so that the piece's own edge can be found in it.

    ``overview`` is (h, w, 3) sRGB of the page ``whole``.
    """
    scale = min(1.0, _LOOK_PX / max(overview.shape[:2]))
    size = (max(1, round(overview.shape[1] * scale)), max(1, round(overview.shape[0] * scale)))
    small = np.asarray(cv2.resize(overview, size, interpolation=cv2.INTER_AREA), np.uint8)
    bed = find_bed(small, rules.bed_share, rules.bed_levels)
    if bed is None:
        return (whole,)
    mask = not_bed(small, bed, rules.bed_levels, 0.0)
    lit = np.where(shadows(small, bed), np.uint8(0), mask)
    cuts = [round(share * max(mask.shape)) for share in rules.bridge_shares]
    all_things = find_things(mask, _SPECK_SHARE * mask.size)
    tried = (_told_apart(one, cut, rules) for one in (mask, lit) for cut in cuts)
    pieces = max((some for some in tried if _are_pieces(some, all_things, mask.size, rules)), key=len, default=[])
    if not pieces:
        return (whole,)
    to_x, to_y = whole.width / size[0], whole.height / size[1]
    boxes = []
    for t in in_reading_order(pieces):
        pad = _room(t, pieces, rules.piece_pad_share * max(t.right - t.left, t.bottom - t.top))
        left, top = max(0, int((t.left - pad) * to_x)), max(0, int((t.top - pad) * to_y))
        right = min(whole.width, round((t.right + pad) * to_x))
        bottom = min(whole.height, round((t.bottom + pad) * to_y))
        boxes.append(Box(left, top, right - left, bottom - top))
    return tuple(boxes)


def _told_apart(mask: NDArray[np.uint8], cut: int, rules: CheckRules) -> list[Thing]:
    """What may be pieces in ``mask`` when bridges up to twice ``cut`` pixels wide (shadows, uneven bed) are cut."""
    things = find_things(mask, _SPECK_SHARE * mask.size)
    if cut:
        solid = np.zeros_like(mask)
        cv2.drawContours(solid, [t.contour[:, None] for t in things], -1, 255, cv2.FILLED)
        things = find_things(cv2.erode(solid, np.ones((2 * cut + 1, 2 * cut + 1), np.uint8)), _SPECK_SHARE * mask.size)
        things = [_grown(t, cut) for t in things]
    return [t for t in things if t.area >= rules.piece_min_share * mask.size and t.fill >= rules.piece_fill]


def _grown(thing: Thing, by: int) -> Thing:
    """A thing as it was before ``by`` pixels were taken from it all round."""
    area = thing.area + by * float(cv2.arcLength(thing.contour[:, None], closed=True))
    left, top, right, bottom = thing.left - by, thing.top - by, thing.right + by, thing.bottom + by
    return replace(thing, left=left, top=top, right=right, bottom=bottom, area=area)


def _room(one: Thing, all_things: list[Thing], wanted: float) -> float:
    """How much bed round a piece its box may take in: at most half the way to its next neighbour."""
    gaps = [
        max(one.left - t.right, t.left - one.right, one.top - t.bottom, t.top - one.bottom)
        for t in all_things
        if t is not one
    ]
    return max(1.0, min(wanted, min(gaps) / 2))


def _are_pieces(pieces: list[Thing], all_things: list[Thing], page_area: float, rules: CheckRules) -> bool:
    """Whether these are several: alike in size, apart, nearly all that lies on the bed, and little beside them."""
    areas = [t.area for t in pieces]
    if len(pieces) < 2 or max(areas) > rules.pieces_ratio * min(areas) or sum(areas) < rules.pieces_cover * page_area:
        return False
    if sum(areas) < rules.pieces_hold * sum(t.area for t in all_things):
        return False
    if sum(t.area for t in all_things if not any(_overlap(t, p) for p in pieces)) > rules.stray_share * page_area:
        return False
    return not any(_overlap(a, b) for n, a in enumerate(pieces) for b in pieces[n + 1 :])


def _overlap(a: Thing, b: Thing) -> bool:
    wide = min(a.right, b.right) - max(a.left, b.left)
    high = min(a.bottom, b.bottom) - max(a.top, b.top)
    return wide > 0 and high > 0 and wide * high > 0.05 * min(a.box_area, b.box_area)


def in_reading_order(things: list[Thing]) -> list[Thing]:
    """Return ``things`` row by row, left to right; a row is what overlaps its first member by half in height."""
    left = sorted(things, key=lambda t: (t.top, t.left))
    rows = []
    while left:
        first = left[0]
        row = [
            t for t in left if min(t.bottom, first.bottom) - max(t.top, first.top) > 0.5 * (first.bottom - first.top)
        ]
        row = row or [first]
        left = [t for t in left if not any(t is r for r in row)]
        rows.append(sorted(row, key=lambda t: t.left))
    return [t for row in rows for t in row]
