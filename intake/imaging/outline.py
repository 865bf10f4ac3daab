"""The straight edges of a thing that lies on a bed: contours, four-sided outlines, and edges drawn to where the step
is."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Corners = NDArray[np.float64]


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


def snap(image: NDArray[np.uint8], corners: Corners, inward_px: int, outward_px: int = 2) -> Corners:
    """Return ``corners`` with each side moved to the steepest step near it: the paper's edge, not the end of its
    shadow."""
    grey = image.astype(np.float32)
    middle = corners.mean(axis=0)
    lines = []
    for number in range(4):
        a, b = corners[number], corners[(number + 1) % 4]
        length = float(np.hypot(*(b - a)))
        along = (b - a) / max(length, 1e-6)
        inward = np.array([-along[1], along[0]])
        if inward @ (middle - a) < 0:
            inward = -inward
        samples = max(16, min(400, int(length)))
        places = np.linspace(0.06, 0.94, samples)[:, None] * length
        depths = np.arange(-outward_px - 1, inward_px + 2)[None, :]
        x = (a[0] + along[0] * places + inward[0] * depths).astype(np.float32)
        y = (a[1] + along[1] * places + inward[1] * depths).astype(np.float32)
        seen = cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        step = np.abs(seen[:, 2:] - seen[:, :-2]).mean(axis=0).max(axis=1)
        lines.append((a + inward * float(depths[0, 1 + int(np.argmax(step))]), along))
    moved = [_meet(lines[n - 1], lines[n]) for n in range(4)]
    return corners if any(c is None for c in moved) else np.array(moved)


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
