"""The working image of a part: where the piece's own edge lies, and a negative turned into a positive."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.render import RenderRules
from intake.imaging.bed import Bed, find_bed, not_bed
from intake.imaging.darkroom import printed
from intake.imaging.flat import flatten
from intake.imaging.outline import Corners, Thing, deepest_shadow, find_things, four_sides, ordered, snap, taper
from intake.imaging.page import Page
from intake.model import Box, Rendered

VERSION = 3
_LOOK_PX = 1024
_SPECK_PX = 6.0
_OVER_WEAVE_PX = 3.0
_INNER = 0.72
_RIM = (0.985, 0.97)  # where the clear rim of film lies: shares of its half width


def render(page: Page, rules: RenderRules) -> Rendered:
    """Return the facts of the working image, with the piece's corners in stored pixels where its edge was found."""
    height, width = page.working.shape[:2]
    corners = find_outline(page, rules)
    outline = () if corners is None else _stored(corners, page)
    return Rendered(page.box, width, height, page.stored_per_working, outline)


def find_outline(page: Page, rules: RenderRules) -> Corners | None:
    """Return the piece's corners on the working image, against the bed and within cloth backing, or None.

    Found on a small copy, then each side is drawn to the steepest step of the working image itself.
    """
    image = page.working
    longest = max(image.shape[:2])
    factor = max(1.0, longest / _LOOK_PX)
    size = (max(1, round(image.shape[1] / factor)), max(1, round(image.shape[0] / factor)))
    small = np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA), np.uint8)
    against = _against_bed(small, rules)
    outer = None if against is None else against[0]
    inner = _within_cloth(page, small, outer, rules)
    found = outer if inner is None else inner
    if found is None:
        return None
    reach = max(3, round(rules.shadow_share * longest))
    placed = snap(image, found * factor, reach, max(2, round(rules.edge_share * longest)))
    if inner is None and against is not None and _is_paper(against[1], rules):
        # the sheet's own margin, and the scan was cut to the sheet, where nothing throws a shadow on it
        return placed if deepest_shadow(image, placed, reach) >= rules.margin_shadow else None
    return placed


def positive(page: Page, rules: RenderRules) -> NDArray[np.uint8]:
    """Return (h, w, 3) sRGB of a negative as a print would show it, in the place of the working image.

    Worked from 16 bits where the file has them (see ``intake/imaging/darkroom.py``).
    """
    height, width = page.working.shape[:2]
    corners = find_outline(page, rules)
    if corners is None:
        corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    rim = _filled(page, _drawn_in(corners, _RIM[0])) & ~_filled(page, _drawn_in(corners, _RIM[1]))
    coded = page.working if page.deep is None else page.deep
    return printed(coded, _filled(page, _drawn_in(corners, _INNER)), rim, rules)


def _filled(page: Page, corners: Corners) -> NDArray[np.bool_]:
    """Which pixels, of every second row and column, lie within the corners."""
    mask = np.zeros(page.working.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], 1)
    mask[1::2], mask[:, 1::2] = 0, 0
    return np.asarray(mask, bool)


def _against_bed(image: NDArray[np.uint8], rules: RenderRules) -> tuple[Corners, Bed] | None:
    """The corners against the bed, and the bed. How uneven it is cannot be known: the tolerance that leaves the fullest
    rectangle holds, the narrowest where several do."""
    found = [f for levels in rules.bed_levels if (f := _on_bed(image, levels, rules)) is not None]
    return max(found, key=lambda f: round(f[0], 2))[1:] if found else None


def _on_bed(image: NDArray[np.uint8], levels: float, rules: RenderRules) -> tuple[float, Corners, Bed] | None:
    """How well what stands out from the bed by ``levels`` fills a rectangle, its corners, and the bed."""
    bed = find_bed(image, rules.bed_share, levels, rules.bed_tint)
    if bed is None:
        return None
    things = find_things(not_bed(image, bed, levels), _SPECK_PX)
    if not things:
        return None
    # paper as white as the bed shows by little more than its edges, so the widest thing is it, not the fullest
    widest = max(things, key=lambda t: t.box_area)
    hull = cv2.convexHull(widest.contour)[:, 0, :]
    area, (_, (a, b), _) = cv2.contourArea(hull), cv2.minAreaRect(hull)
    if area < rules.piece_share * image.shape[0] * image.shape[1] or area < rules.piece_fill * a * b:
        return None
    # small things all round are print: then this is a sheet's own margin, and the scan was cut to the sheet
    outside = [t for t in things if not _holds(hull, t)]
    if len(outside) > rules.most_strays:
        return None
    corners = four_sides(widest.contour if widest.fill >= rules.piece_fill else hull)
    if corners is None or taper(corners) > rules.piece_taper:
        return None
    return area / max(1.0, a * b), corners, bed


def _holds(hull: NDArray[np.int32], thing: Thing) -> bool:
    x, y = (thing.left + thing.right) / 2, (thing.top + thing.bottom) / 2
    return bool(cv2.pointPolygonTest(hull, (x, y), False) >= 0)


def _within_cloth(page: Page, image: NDArray[np.uint8], outer: Corners | None, rules: RenderRules) -> Corners | None:
    """The paper's corners on ``image`` when what lies on the bed is cloth with a sheet on it."""
    height, width = image.shape[:2]
    if outer is None:
        outer = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    flat, matrix = flatten(image, _drawn_in(outer, 0.992))
    flat = np.asarray(cv2.GaussianBlur(flat, (0, 0), _OVER_WEAVE_PX), np.uint8)
    longest = max(flat.shape[:2])
    cloth = find_bed(flat, rules.cloth_ring, rules.cloth_levels)
    if cloth is None or not _is_pale(cloth, rules) or cloth.colour[0] - cloth.colour[2] < rules.cloth_cream:
        return None
    things = find_things(not_bed(flat, cloth, rules.cloth_levels), 0.5 * flat.shape[0] * flat.shape[1])
    if not things or things[0].fill < rules.cloth_fill:
        return None
    found = things[0]
    gaps = (found.left, found.top, flat.shape[1] - found.right, flat.shape[0] - found.bottom)
    if not all(rules.cloth_share[0] * longest <= gap <= rules.cloth_share[1] * longest for gap in gaps):
        return None
    corners = four_sides(found.contour)
    if corners is None:
        return None
    paper = find_bed(flatten(flat, _drawn_in(corners, 0.99))[0], rules.bed_share, rules.cloth_levels)
    if paper is None or not _is_pale(paper, rules):
        return None
    back = np.asarray(np.linalg.inv(matrix), np.float64)
    frame = np.array([[0, 0], [flat.shape[1], 0], flat.shape[1::-1], [0, flat.shape[0]]], np.float64)
    scale = max(page.working.shape[:2]) / max(height, width) * page.stored_per_working
    beside = _weave(page, _carried((corners + frame) / 2, back) * scale, min(gaps) / 2 * scale)
    # a sheet's own border may be narrow: keep close to its edge
    a_little_in = corners + np.sign(corners.mean(axis=0) - corners) * min(gaps) * 0.12
    within = _weave(page, _carried(a_little_in, back) * scale, min(gaps) * 0.18 * scale)
    if beside < max(rules.cloth_texture, rules.cloth_to_paper * within):
        return None
    return _carried(corners, back)


def _is_paper(bed: Bed, rules: RenderRules) -> bool:
    return _is_pale(bed, rules) and bed.colour[0] - bed.colour[2] >= rules.margin_cream


def _is_pale(bed: Bed, rules: RenderRules) -> bool:
    return min(bed.colour) >= rules.cloth_least and max(bed.colour) - min(bed.colour) <= rules.cloth_tint


def _drawn_in(corners: Corners, factor: float) -> Corners:
    middle = corners.mean(axis=0)
    return np.asarray(middle + (corners - middle) * factor, np.float64)


def _carried(points: Corners, matrix: NDArray[np.float64]) -> Corners:
    return np.asarray(cv2.perspectiveTransform(points[None].astype(np.float64), matrix)[0], np.float64)


def _weave(page: Page, loop: Corners, band_px: float) -> float:
    """Fine texture, in levels, at the stored resolution: the median over small places along ``loop`` of its spread.

    The spread is 1.48 times the median deviation, so that a printed line or a mark does not count.
    """
    side = int(min(64, max(8, band_px)))
    spreads = []
    for number in range(4):
        a, b = loop[number], loop[(number + 1) % 4]
        for share in (0.2, 0.4, 0.6, 0.8):
            x, y = (a + (b - a) * share + (page.box.left, page.box.top)).tolist()
            patch = page.crop(Box(int(x - side / 2), int(y - side / 2), side, side))
            grey = cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY).astype(np.float32)
            fine = grey - cv2.GaussianBlur(grey, (0, 0), 3.0)
            spreads.append(1.48 * float(np.median(np.abs(fine - np.median(fine)))))
    return float(np.median(spreads))


def _stored(corners: Corners, page: Page) -> tuple[tuple[float, float], ...]:
    scale = page.stored_per_working
    placed = ordered(corners)
    return tuple((round(page.box.left + x * scale, 1), round(page.box.top + y * scale, 1)) for x, y in placed.tolist())
