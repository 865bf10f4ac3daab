"""Outlines in a local frame (x right, y down, (n, 2) float32), and how they are carried into another frame."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sample_batch.art.lettering import smooth

Floats = NDArray[np.float32]
Points = Sequence[tuple[float, float]]


def poly(points: Points) -> Floats:
    """The points as they stand: a shape with straight edges."""
    return np.array(points, np.float32)


def blob(points: Points | Floats, steps: int = 8) -> Floats:
    """A closed smooth shape through the points."""
    return smooth(np.asarray(points, np.float32), steps, closed=True)


def oval(x: float, y: float, rx: float, ry: float, turn: float = 0.0, points: int = 36) -> Floats:
    """An ellipse about (x, y), turned by `turn` radians."""
    angle = np.linspace(0, 2 * math.pi, points, endpoint=False)
    raw = np.column_stack([rx * np.cos(angle), ry * np.sin(angle)])
    turned = raw @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    return np.asarray(np.add(turned, (x, y)), np.float32)


def box(left: float, top: float, right: float, bottom: float) -> Floats:
    """An upright rectangle."""
    return poly([(left, top), (right, top), (right, bottom), (left, bottom)])


def tube(spine: Points | Floats, widths: Sequence[float], steps: int = 8) -> Floats:
    """A limb, trunk or plume: a smooth spine with a half-width at each of its knots and rounded ends."""
    knots = np.column_stack([np.asarray(spine, np.float32), np.asarray(widths, np.float32)])
    padded = np.concatenate([knots[:1], knots, knots[-1:]])
    a, b, c, d = padded[:-3, None], padded[1:-2, None], padded[2:-1, None], padded[3:, None]
    t = np.linspace(0, 1, steps, endpoint=False, dtype=np.float32)[None, :, None]
    curve = b + 0.5 * t * ((c - a) + t * ((2 * a - 5 * b + 4 * c - d) + t * (3 * (b - c) + d - a)))
    line = np.concatenate([curve.reshape(-1, 3), knots[-1:]])
    way = np.gradient(line[:, :2], axis=0)
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-6)
    side = np.column_stack([-way[:, 1], way[:, 0]])
    half = np.maximum(line[:, 2:], 1e-4)
    turn = np.linspace(-math.pi / 2, math.pi / 2, 6)[1:-1, None]
    end = line[-1, :2] + half[-1] * (np.cos(turn) * way[-1] - np.sin(turn) * side[-1])
    start = line[0, :2] - half[0] * (np.cos(turn) * way[0] - np.sin(turn) * side[0])
    left, right = line[:, :2] + side * half, line[:, :2] - side * half
    return np.concatenate([left, end, right[::-1], start]).astype(np.float32)


def ridge(rng: np.random.Generator, left: float, right: float, y: float, high: float, rough: float = 0.5) -> Floats:
    """The line of a range of hills from left to right by midpoint displacement; (n, 2), not closed."""
    line = np.array([y, y], np.float64) - high * rng.random(2)
    for level in range(7):
        middle = (line[:-1] + line[1:]) / 2 + high * rough**level * rng.uniform(-0.5, 0.5, len(line) - 1)
        line = np.insert(line, np.arange(1, len(line)), middle)
    return np.column_stack([np.linspace(left, right, len(line)), line]).astype(np.float32)


def ground(line: Floats, bottom: float) -> Floats:
    """A line from left to right, closed down to `bottom`."""
    return np.concatenate([line, poly([(float(line[-1, 0]), bottom), (float(line[0, 0]), bottom)])])


def frame(x: float, y: float, size: float, turn: float = 0.0, flip: bool = False) -> Floats:
    """The (2, 3) matrix that sets a local frame at (x, y), `size` large, turned clockwise, mirrored first if `flip`."""
    c, s = math.cos(turn) * size, math.sin(turn) * size
    mirror = -1.0 if flip else 1.0
    return np.array([[c * mirror, -s, x], [s * mirror, c, y]], np.float32)


def carry(points: Floats, matrix: Floats) -> Floats:
    """The points seen in the outer frame."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2], np.float32)


def within(outer: Floats, inner: Floats) -> Floats:
    """The matrix that applies `inner` first, then `outer`."""
    full = np.vstack([outer, [0, 0, 1]]) @ np.vstack([inner, [0, 0, 1]])
    return np.asarray(full[:2], np.float32)


def size_of(matrix: Floats) -> float:
    """How much the frame enlarges."""
    return math.sqrt(abs(float(np.linalg.det(matrix[:, :2]))))
