"""The colour bar of a proof: where its four solid inks stand, each on its own plate, and so how far plates are off."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.levels import largest, smallest

# Hues of solid inks in degrees, and the channel of the scan that each darkens: cyan red, magenta green, yellow blue.
_HUES = {"cyan": (178, 212), "magenta": (290, 345), "yellow": (44, 70)}
_CHANNEL = {"cyan": 0, "magenta": 1, "yellow": 2}
_STRONG, _BLACK = 90, 70
_FILL, _LONG = 0.8, 2.5
_ALIKE = 0.3  # of the patch's side: how far sizes and places in a row may differ
_MOST_APART = 14  # sides between the first and the last patch of a bar
_LEAST_STEP = 25.0  # levels at an edge
_BESIDE = 3  # pixels
_TRY = 400


@dataclass(frozen=True, slots=True)
class Patch:
    """One solid patch of an ink, in pixels."""

    ink: str
    left: float
    top: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle."""
        return self.left + self.width / 2, self.top + self.height / 2


@dataclass(frozen=True, slots=True)
class Shift:
    """How far an ink lies off black across the bar, in pixels: down where the bar lies, to the right where it stands.

    ``off_px`` is its error: half of what the patches differ by in height, and what the bar's skew leaves open.
    """

    ink: str
    off_black_px: float
    off_px: float


def find_bar(image: NDArray[np.uint8], least_px: int, most_px: int) -> tuple[Patch, ...]:
    """Return one patch each of cyan, magenta, yellow and black, alike in size and in one row, or nothing.

    ``image`` is (h, w, 3) sRGB; sides lie between ``least_px`` and ``most_px``. Rows may run across or down.
    """
    found = _patches(image, least_px, most_px)
    best: tuple[float, tuple[Patch, ...]] | None = None
    for first in (p for p in found if p.ink == "cyan"):
        side = max(first.width, first.height)
        for axis in (0, 1):
            row = [p for p in found if _beside(first, p, side, axis)]
            chosen = [first]
            for ink in ("magenta", "yellow", "black"):
                near = [p for p in row if p.ink == ink]
                if not near:
                    break
                chosen.append(min(near, key=lambda p: abs(p.middle[axis] - first.middle[axis])))
            if len(chosen) == 4:
                across = float(np.ptp([p.middle[axis] for p in chosen]))
                if best is None or across < best[0]:
                    best = across, tuple(chosen)
    return best[1] if best else ()


def _patches(image: NDArray[np.uint8], least_px: int, most_px: int) -> list[Patch]:
    spread = largest(image).astype(np.int16) - smallest(image)
    hue = cv2.cvtColor(image, cv2.COLOR_RGB2HSV_FULL)[..., 0].astype(np.float32) * (360 / 255)
    masks = {ink: (spread > _STRONG) & (hue >= low) & (hue <= high) for ink, (low, high) in _HUES.items()}
    masks["black"] = largest(image) < _BLACK
    found: list[Patch] = []
    for ink, mask in masks.items():
        count, _, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
        kept = [s for s in stats[1:count] if _is_patch(s, least_px, most_px)]
        found += [Patch(ink, *(float(v) for v in s[:4])) for s in kept[:_TRY]]
    return found


def _is_patch(stats: NDArray[np.int32], least_px: int, most_px: int) -> bool:
    wide, high, area = int(stats[cv2.CC_STAT_WIDTH]), int(stats[cv2.CC_STAT_HEIGHT]), int(stats[cv2.CC_STAT_AREA])
    short, long = min(wide, high), max(wide, high)
    return short >= least_px and long <= most_px and long <= _LONG * short and area >= _FILL * wide * high


def _beside(a: Patch, b: Patch, side: float, axis: int) -> bool:
    if abs(a.width - b.width) > _ALIKE * side or abs(a.height - b.height) > _ALIKE * side:
        return False
    away = (b.middle[0] - a.middle[0], b.middle[1] - a.middle[1])
    return abs(away[1 - axis]) < _ALIKE * side and abs(away[axis]) < _MOST_APART * side


def stands(bar: Sequence[Patch]) -> bool:
    """Tell whether the row of patches runs down rather than across."""
    return bool(np.ptp([p.middle[1] for p in bar]) > np.ptp([p.middle[0] for p in bar]))


def read_shifts(image: NDArray[np.uint8], bar: Sequence[Patch]) -> tuple[Shift, ...]:
    """Return how far cyan, magenta and yellow lie off black across the bar, from their patches' two long edges.

    The patches of one bar are made alike; each stands where its plate stood. Both edges border on bare paper, so that
    blur and coarse colour coding move them alike and the middle stays; the bar's skew is that of the edges themselves.
    (Along the bar a patch borders on other inks, which shifts its edges by more than a pixel: not told.) Nothing where
    an edge is not seen.
    """
    if stands(bar):
        image = np.ascontiguousarray(image.transpose(1, 0, 2))
        bar = [Patch(p.ink, p.top, p.left, p.height, p.width) for p in bar]
    middles: dict[str, float] = {}
    heights, slopes = [], []
    for patch in bar:
        plane = _plane(image, patch.ink)
        edges = [_edge(plane, patch, far) for far in (0, 1)]
        if edges[0] is None or edges[1] is None:
            return ()
        middles[patch.ink] = (edges[0][0] + edges[1][0]) / 2
        heights.append(edges[1][0] - edges[0][0])
        slopes += [edges[0][1], edges[1][1]]
    slope, uneven = float(np.median(slopes)), float(np.ptp(heights)) / 2
    # twice the standard error of a median (1.25 x 1.48 x median deviation / root of the count)
    slope_off = 3.7 * float(np.median(np.abs(np.array(slopes) - slope))) / len(slopes) ** 0.5
    black = next(p for p in bar if p.ink == "black")
    made = []
    for patch in (p for p in bar if p.ink != "black"):
        away = patch.middle[0] - black.middle[0]
        off = float(np.hypot(uneven, slope_off * away))
        made.append(Shift(patch.ink, middles[patch.ink] - middles["black"] - slope * away, off))
    return tuple(made)


def _plane(image: NDArray[np.uint8], ink: str) -> NDArray[np.float32]:
    if ink == "black":
        return np.asarray(largest(image), np.float32)
    return np.asarray(image[..., _CHANNEL[ink]], np.float32)


def _edge(plane: NDArray[np.float32], patch: Patch, far: int) -> tuple[float, float] | None:
    """Place of the upper (0) or lower edge in pixels at the patch's middle, and its slope; or None.

    A line through the places where columns pass the level midway between ink and paper.
    """
    near = patch.top + far * patch.height
    reach = max(3, round(patch.height * 0.3))
    top, bottom = max(0, round(near) - reach), min(plane.shape[0], round(near) + reach + 1)
    left, right = round(patch.left + 0.2 * patch.width), round(patch.left + 0.8 * patch.width)
    field = plane[top:bottom, max(0, left) : right]
    if field.shape[0] < 2 * reach or field.shape[1] < 3:  # at the picture's edge
        return None
    inside, outside = (field[-2:], field[:2]) if far == 0 else (field[:2], field[-2:])
    dark, light = float(np.median(inside)), float(np.median(outside))
    if light - dark < _LEAST_STEP:
        return None
    inward = cv2.GaussianBlur(field if far == 0 else field[::-1], (0, 0), 0.7)  # from the ground into the ink
    place = _crossing(inward, (light + dark) / 2, abs(near - (top if far == 0 else bottom)))
    # what lies right beside the edge counts: something else may begin a little further out
    at = round(float(np.nanmedian(place)))
    light, dark = (float(np.median(inward[np.clip(at + n, 0, len(inward) - 1)])) for n in (-_BESIDE, _BESIDE - 1))
    if light - dark < _LEAST_STEP:
        return None
    place = _crossing(inward, (light + dark) / 2, at)
    place = top + place if far == 0 else bottom - place
    x = np.arange(field.shape[1]) + left + 0.5 - (patch.left + patch.width / 2)
    keep = np.abs(place - np.nanmedian(place)) < 2.0
    if keep.sum() < 3:
        return None
    slope, at = np.polyfit(x[keep], place[keep], 1)
    return float(at), float(slope)


def _crossing(field: NDArray[np.float32], level: float, expected: float) -> NDArray[np.float64]:
    """For each column of (rows, n), how far down it falls below ``level``, at the fall nearest to ``expected``."""
    falls = (field[:-1] > level) & (field[1:] <= level)
    rows = np.arange(field.shape[0] - 1)[:, None]
    row = np.where(falls, np.abs(rows + 1 - expected), np.inf).argmin(axis=0)
    above, below = np.take_along_axis(field, row[None], 0)[0], np.take_along_axis(field, row[None] + 1, 0)[0]
    share = (above - level) / np.maximum(above - below, 1e-3)
    return np.where(falls.any(axis=0), row + 0.5 + np.clip(share, 0, 1), np.nan)
