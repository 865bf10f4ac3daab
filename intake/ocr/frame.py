"""Letters with a circle, triangle or box drawn round them, as certificates have: found as shapes, then read inside."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Quad = NDArray[np.float32]
FRAME = "frame"  # the name under which a reading says what is drawn round a line
SQUARE_PX = 96
_FIT = 0.86  # the outline fills this share of the ideal shape round it
_SMALLEST_PX, _LARGEST_SHARE = 22, 0.07  # a frame's size: pixels, and share of the picture's long edge
_SPECK = 0.008  # share of the frame's area below which a spot is no letter
_HOLES, _INK = 0.2, 0.12  # shares of the frame's area: ground that shows inside it, ink of frame and letters
_MOST = 16
_INNER_EDGE = 1.16  # a frame is so much larger than its inner edge
_THICKEST_PX, _STEP_LEVELS = 27, 28  # a stroke's width, and its difference from its ground
_LEAST_INK, _MOST_INK = 0.04, 0.65  # share of the inside that is ink


@dataclass(frozen=True, slots=True)
class Frame:
    """A drawn frame: its square corners on the picture, its shape in words, and how well it fits (0 to 1).

    ``dark`` tells whether its letters are darker than its ground.
    """

    quad: Quad
    shape: str
    fit: float
    dark: bool


def find_frames(picture: Picture, enlarge: float = 1.0) -> list[Frame]:
    """Return the frames drawn on ``picture``, (h, w, 3), the best first, at most 16."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    if min(grey.shape) < _SMALLEST_PX:
        return []
    if enlarge != 1.0:
        grey = cv2.resize(grey, None, fx=enlarge, fy=enlarge, interpolation=cv2.INTER_CUBIC)
    found: list[Frame] = []
    # Strokes, dark or light, are what a closing or an opening takes away; unlike a local threshold it leaves no halo.
    brush = cv2.getStructuringElement(cv2.MORPH_RECT, (_THICKEST_PX, _THICKEST_PX))
    for how in (cv2.MORPH_BLACKHAT, cv2.MORPH_TOPHAT):
        strokes = cv2.morphologyEx(grey, how, brush)
        mask = (strokes > np.maximum(_STEP_LEVELS, cv2.dilate(strokes, brush) // 2)).astype(np.uint8)
        largest = max(_SMALLEST_PX, max(grey.shape) * _LARGEST_SHARE)
        found += _frames(mask, how == cv2.MORPH_BLACKHAT, largest, enlarge)
    kept: list[Frame] = []
    for frame in sorted(found, key=lambda f: -float(np.ptp(f.quad[:, 0]))):  # a ring's inner edge is no second frame
        middle = frame.quad.mean(axis=0)
        if not any(np.abs(k.quad.mean(axis=0) - middle).max() < 0.25 * np.ptp(k.quad[:, 0]) for k in kept):
            kept.append(frame)
    return sorted(kept, key=lambda f: -f.fit)[:_MOST]


def _frames(mask: NDArray[np.uint8], dark: bool, largest: float, enlarge: float) -> list[Frame]:
    contours, tree = cv2.findContours(mask, cv2.RETR_TREE, cv2.CHAIN_APPROX_SIMPLE)
    found: list[Frame] = []
    for number, contour in enumerate(contours):
        _, _, wide, high = cv2.boundingRect(contour)
        if not _SMALLEST_PX <= min(wide, high) <= max(wide, high) <= min(largest, 1.35 * min(wide, high)):
            continue
        parent = int(tree[0][number][3])
        is_hole = parent >= 0 and not _is_hole(tree[0], parent)
        if not (_is_inner_edge if is_hole else _is_ring)(contours, tree[0], number):
            continue
        fit, name = _shape(contour)
        if fit >= _FIT:
            found.append(
                Frame(_square(contour, _INNER_EDGE if is_hole else 1.0) / np.float32(enlarge), name, fit, dark)
            )
    return found


def _is_hole(tree: NDArray[np.int32], number: int) -> bool:
    depth = 0
    while (number := int(tree[number][3])) >= 0:
        depth += 1
    return depth % 2 == 1


def _is_ring(contours: Sequence[NDArray[np.int32]], tree: NDArray[np.int32], number: int) -> bool:
    """Strokes round ground, with letters on the ground or cutting it up: an O or a D has neither."""
    area = max(1.0, cv2.contourArea(contours[number]))
    holes = [h for h in _row(tree, int(tree[number][2])) if cv2.contourArea(contours[h]) > _SPECK * area]
    islands = [i for h in holes for i in _row(tree, int(tree[h][2])) if cv2.contourArea(contours[i]) > _SPECK * area]
    ground = sum(cv2.contourArea(contours[h]) for h in holes)
    return len(holes) + len(islands) > 1 and _HOLES * area < ground < (1 - _INK) * area


def _is_inner_edge(contours: Sequence[NDArray[np.int32]], tree: NDArray[np.int32], number: int) -> bool:
    """Ground with letters in its middle: the inside of a frame whose outside touches something else."""
    area = max(1.0, cv2.contourArea(contours[number]))
    islands = [i for i in _row(tree, int(tree[number][2])) if cv2.contourArea(contours[i]) > _SPECK * area]
    if not islands:
        return False
    left, top, wide, high = cv2.boundingRect(np.vstack([contours[i] for i in islands]))
    x, y, w, h = cv2.boundingRect(contours[number])
    is_middle = abs(left + wide / 2 - x - w / 2) < 0.15 * w and abs(top + high / 2 - y - h / 2) < 0.2 * h
    return is_middle and 0.3 * h < max(high, wide)


def _square(contour: NDArray[np.int32], grown: float) -> Quad:
    left, top, wide, high = cv2.boundingRect(contour)
    half = max(wide, high) / 2 * grown
    corners = np.array([[-half, -half], [half, -half], [half, half], [-half, half]], np.float32)
    return np.array([left + wide / 2, top + high / 2], np.float32) + corners


def _row(tree: NDArray[np.int32], first: int) -> list[int]:
    """Return a contour and those beside it, which lie in the same one."""
    row = []
    while first >= 0:
        row.append(first)
        first = int(tree[first][0])
    return row


def _shape(contour: NDArray[np.int32]) -> tuple[float, str]:
    hull = cv2.convexHull(contour)
    area = cv2.contourArea(hull)
    _, radius = cv2.minEnclosingCircle(hull)
    _, sides, _ = cv2.minAreaRect(hull)
    fits = [
        (area / max(1.0, np.pi * radius**2), "circle"),
        (area / max(1.0, sides[0] * sides[1]), "box"),
        (area / max(1.0, cv2.minEnclosingTriangle(hull)[0]), "triangle"),
    ]
    fit, name = max(fits)
    # A hull hides how ragged an outline is; a drawn frame fills its hull.
    return round(min(1.0, fit) * cv2.contourArea(contour) / max(1.0, area), 3), name


def letters_inside(square: Picture, shape: str, dark: bool) -> Picture | None:
    """Return what stands in a frame, the frame itself painted over with the ground. ``square``: the frame, upright.

    None where nothing stands in it, or nothing else.
    """
    side = square.shape[0]
    mask = np.zeros(square.shape[:2], np.uint8)
    if shape == "circle":
        cv2.circle(mask, (side // 2, side // 2), round(side * 0.385), 255, -1)
    elif shape == "box":
        inset = round(side * 0.13)
        mask[inset : side - inset, inset : side - inset] = 255
    else:
        points = np.array([[0.5, 0.24], [0.8, 0.86], [0.2, 0.86]]) * side
        cv2.fillPoly(mask, [points.astype(np.int32)], 255)
    grey = cv2.cvtColor(square, cv2.COLOR_RGB2GRAY)
    level, _ = cv2.threshold(grey[mask > 0], 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    ink = (grey <= level) == dark
    if not _LEAST_INK < ink[mask > 0].mean() < _MOST_INK:
        return None
    ground = np.median(square[(mask > 0) & ~ink], axis=0).astype(np.uint8)
    left, top, wide, high = cv2.boundingRect(mask)
    inside = np.where(mask[..., None] > 0, square, ground)[top : top + high, left : left + wide]
    edge = side // 8
    return cv2.copyMakeBorder(inside, 0, 0, edge, edge, cv2.BORDER_CONSTANT, value=[int(v) for v in ground])
