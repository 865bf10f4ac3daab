"""The straight edges of a thing that lies on a bed: contours, four-sided outlines, and edges drawn to where the step
is."""

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

Corners = NDArray[np.float64]
# how much darker than the bed a shadow is at least
_SHADOW_LEVELS = 8.0
_LEVEL_NOISE = 1.0
_STRETCHES = 8
_INSET = 0.06
_BESIDE_PX = 3


@dataclass(frozen=True, slots=True)
class Thing:
    """One connected thing on the bed. ``left`` to ``bottom`` is its upright box, ``fill`` its share of its tightest
    turned rectangle (1 = a rectangle), ``contour`` its outer points (n, 2)."""

    left: int
    top: int
    right: int
    bottom: int
    area: float
    fill: float
    contour: NDArray[np.int32]

    @property
    def box_area(self) -> int:
        """Area of the upright box."""
        return (self.right - self.left) * (self.bottom - self.top)


def find_things(mask: NDArray[np.uint8], least_area: float) -> list[Thing]:
    """Return what stands out in ``mask`` with holes filled, of at least ``least_area`` pixels, the largest first."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    things = []
    for contour in contours:
        area = float(cv2.contourArea(contour))
        if area < least_area:
            continue
        left, top, width, height = cv2.boundingRect(contour)
        (_, (a, b), _) = cv2.minAreaRect(contour)
        things.append(Thing(left, top, left + width, top + height, area, area / max(1.0, a * b), contour[:, 0, :]))
    return sorted(things, key=lambda t: -t.area)


def four_sides(contour: NDArray[np.int32]) -> Corners | None:
    """Return corners (top left, top right, bottom right, bottom left) of the four straight sides along a contour.

    Each side is a line fitted with Huber weights to the points near it, the corners left out, so that a torn or rounded
    corner does not move it. None when a side has too few points.
    """
    points = _dense(contour)
    rectangle = ordered(cv2.boxPoints(cv2.minAreaRect(contour)))
    lines = []
    for number in range(4):
        a, b = rectangle[number], rectangle[(number + 1) % 4]
        length = float(np.hypot(*(b - a)))
        if length < 8:
            return None
        along = (b - a) / length
        relative = points - a
        place, away = relative @ along, np.abs(relative @ np.array([-along[1], along[0]]))
        near = points[(place > 0.08 * length) & (place < 0.92 * length) & (away < 0.04 * length + 2)]
        if len(near) < 0.2 * length:
            return None
        vx, vy, x, y = np.ravel(cv2.fitLine(near.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)).tolist()
        lines.append((np.array([x, y]), np.array([vx, vy])))
    corners = [_meet(lines[n - 1], lines[n]) for n in range(4)]
    return None if any(c is None for c in corners) else np.array(corners)


def ordered(corners: NDArray[np.floating]) -> Corners:
    """Return four corners clockwise from the one nearest to the top left."""
    middle = corners.mean(axis=0)
    turn = np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0])
    around = corners[np.argsort(turn)]
    first = int(np.argmin(around.sum(axis=1)))
    return np.roll(around, -first, axis=0).astype(np.float64)


def taper(corners: Corners) -> float:
    """By how much opposite sides differ in length, as a share: 0 for a rectangle."""
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    return float(np.abs(np.log(sides[:2] / sides[2:])).max())


def snap(image: NDArray[np.uint8], corners: Corners, reach_px: int, slack_px: int) -> Corners:
    """Return ``corners`` with each side laid along the piece's own edge, which may lie within its shadow.

    The edge is looked for in eight stretches of each side: at the end of a shadow within ``reach_px`` inward where most
    of them lie in one, else at the steepest step within ``slack_px``. A line with Huber weights goes through them.
    """
    middle = corners.mean(axis=0)
    lines = []
    for number in range(4):
        a, b = corners[number], corners[(number + 1) % 4]
        shaded, stepped = [], []
        for start, end, inward in _stretches(a, b, middle):
            profile = _profile(image, start, end, inward, -slack_px - 2, reach_px + 2)
            begins = (start + end) / 2 - inward * (slack_px + 2)
            stepped.append(begins + inward * _step_place(profile, slack_px))
            place = _shadow_end(profile.mean(axis=1), slack_px)
            if place is not None:
                shaded.append(begins + inward * place)
        # type beside the edge looks like a shadow in some stretches, a shadow runs all along
        points = shaded if 2 * len(shaded) > _STRETCHES else stepped
        vx, vy, x, y = np.ravel(cv2.fitLine(np.array(points, np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)).tolist()
        lines.append((np.array([x, y]), np.array([vx, vy])))
    moved = [_meet(lines[n - 1], lines[n]) for n in range(4)]
    return corners if any(c is None for c in moved) else np.array(moved)


def deepest_shadow(image: NDArray[np.uint8], corners: Corners, reach_px: int) -> float:
    """By how many levels the ground darkens within ``reach_px`` of the piece, on the side where it does most.

    Looked at beside (4, 2) ``corners``, in the middle one of each side's eight stretches.
    """
    middle = corners.mean(axis=0)
    deepest = 0.0
    for number in range(4):
        dips = []
        for start, end, inward in _stretches(corners[number], corners[(number + 1) % 4], middle):
            tone = _profile(image, start, end, inward, -reach_px - _BESIDE_PX, -_BESIDE_PX).mean(axis=1)
            dips.append(float(tone[:_BESIDE_PX].mean() - tone.min()))
        deepest = max(deepest, float(np.median(dips)))
    return deepest


def _stretches(
    a: NDArray[np.float64], b: NDArray[np.float64], middle: NDArray[np.float64]
) -> list[tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]]:
    """The stretches of a side, corners left out: where each begins and ends, and the way inward."""
    along = (b - a) / max(float(np.hypot(*(b - a))), 1e-6)
    inward = np.array([-along[1], along[0]])
    if inward @ (middle - a) < 0:
        inward = -inward
    bounds = [_INSET + (1 - 2 * _INSET) * n / _STRETCHES for n in range(_STRETCHES + 1)]
    return [(a + (b - a) * start, a + (b - a) * end, inward) for start, end in pairwise(bounds)]


def _profile(
    image: NDArray[np.uint8],
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    inward: NDArray[np.float64],
    first: int,
    last: int,
) -> NDArray[np.float32]:
    """Mean colour, (n, 3), along lines beside that from ``a`` to ``b``, ``first`` to ``last`` pixels inward."""
    samples = max(8, min(80, int(np.hypot(*(b - a)))))
    places = np.linspace(0, 1, samples)[:, None]
    depths = np.arange(first, last + 1)[None, :]
    x = (a[0] + (b[0] - a[0]) * places + inward[0] * depths).astype(np.float32)
    y = (a[1] + (b[1] - a[1]) * places + inward[1] * depths).astype(np.float32)
    seen = cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen.astype(np.float32).mean(axis=0))


def _step_place(profile: NDArray[np.float32], slack: int) -> int:
    """Index of the steepest step about where the edge was first found, ``slack`` + 2 pixels into a profile."""
    step = np.abs(profile[2:] - profile[:-2]).max(axis=1)
    return 1 + int(np.argmax(step[: 2 * slack + 3]))


def _shadow_end(grey: NDArray[np.float32], slack: int) -> int | None:
    """Index of the piece's edge in a profile that goes from the bed into its shadow; None where it does not.

    The shadow ends where the tone rises again, or, on a piece as dark as it, at a step that is steeper than all of it.
    """
    rise = grey[2:] - grey[:-2]
    lowest = int(np.argmin(grey))
    dip = float(grey[0] - grey[lowest])
    if dip > _SHADOW_LEVELS and lowest < len(rise):
        best = lowest + int(np.argmax(rise[max(0, lowest - 1) :])) - (1 if lowest > 0 else 0)
        if float(grey[min(best + 3, len(grey) - 1)] - grey[lowest]) > 0.5 * dip:
            return best + 1
    steepest = int(np.argmax(np.abs(rise)))
    before = grey[: steepest + 1]
    darker = float(before[0] - before[-1])
    is_gradual = darker > _SHADOW_LEVELS and float(np.diff(before).max(initial=0.0)) < _LEVEL_NOISE
    if is_gradual and 2 * float(np.abs(rise[: 2 * slack + 3]).max()) < min(darker, float(abs(rise[steepest]))):
        return steepest + 1
    return None


def _dense(contour: NDArray[np.int32]) -> NDArray[np.float64]:
    """Return points one pixel apart along a closed contour whose straight runs are stored by their ends."""
    ends = np.roll(contour, -1, axis=0).astype(np.float64)
    starts = contour.astype(np.float64)
    runs = []
    for a, b in zip(starts, ends, strict=True):
        count = max(1, int(np.hypot(*(b - a))))
        runs.append(a + (b - a) * (np.arange(count)[:, None] / count))
    return np.concatenate(runs)


def _meet(
    first: tuple[NDArray[np.float64], NDArray[np.float64]], second: tuple[NDArray[np.float64], NDArray[np.float64]]
) -> NDArray[np.float64] | None:
    (p, u), (q, v) = first, second
    across = u[0] * v[1] - u[1] * v[0]
    if abs(across) < 1e-6:
        return None
    t = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / across
    return np.asarray(p + t * u)
