"""Plane transforms between two pictures: fitted, applied, and told in words of turn, scale and mirror."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box

Matrix = NDArray[np.float64]
Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Told:
    """A transform at one point: mirror first (left-right), then turn clockwise by ``rotation`` degrees, then scale.

    ``stretch`` is the longer axis of a mapped circle over the shorter (1 when shapes are kept).
    """

    mirror: bool
    rotation: float
    scale: float
    stretch: float


def apply(matrix: Matrix, points: Points) -> Points:
    """Map (n, 2) points; a point that the transform sends to infinity comes back as infinity."""
    mapped = points @ matrix[:, :2].T + matrix[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        here: Points = mapped[:, :2] / mapped[:, 2:]
    return np.nan_to_num(here, nan=np.inf, posinf=np.inf, neginf=-np.inf)


def linear_at(matrix: Matrix, point: tuple[float, float]) -> Matrix:
    """The 2 x 2 derivative of a homography at a point."""
    x, y, w = matrix @ np.array([*point, 1.0])
    derivative: Matrix = (matrix[:2, :2] - np.outer((x / w, y / w), matrix[2, :2])) / w
    return derivative


def tell(matrix: Matrix, point: tuple[float, float]) -> Told:
    """Mirror, turn, scale and stretch of a homography at a point of the first picture."""
    linear = linear_at(matrix, point)
    determinant = float(np.linalg.det(linear))
    unmirrored = linear @ np.diag([-1.0, 1.0]) if determinant < 0 else linear
    turn = np.arctan2(unmirrored[1, 0] - unmirrored[0, 1], unmirrored[0, 0] + unmirrored[1, 1])
    long, short = np.linalg.svd(linear, compute_uv=False)
    return Told(determinant < 0, float(np.degrees(turn)) % 360, abs(determinant) ** 0.5, float(long / max(short, 1e-9)))


def frame_to_stored(box: Box, stored_per_frame: float) -> Matrix:
    """Frame pixels to stored pixels, pixel centres on pixel centres."""
    shift = (stored_per_frame - 1) / 2
    return np.array([[stored_per_frame, 0, box.left + shift], [0, stored_per_frame, box.top + shift], [0, 0, 1.0]])


def fit_similarity(source: Points, target: Points) -> Matrix:
    """Least squares turn, scale and shift (no mirror) from two or more (n, 2) point pairs."""
    a, b = source[:, 0] + 1j * source[:, 1], target[:, 0] + 1j * target[:, 1]
    centred = a - a.mean()
    factor = np.vdot(centred, b - b.mean()) / max(np.vdot(centred, centred).real, 1e-9)
    shift = b.mean() - factor * a.mean()
    return similarity(complex(factor), complex(shift))


def similarity(factor: complex, shift: complex) -> Matrix:
    """The 3 x 3 matrix of z -> factor * z + shift on points x + iy."""
    return np.array(
        [[factor.real, -factor.imag, shift.real], [factor.imag, factor.real, shift.imag], [0, 0, 1.0]], dtype=np.float64
    )


def fit_affine(source: Points, target: Points) -> Matrix:
    """Least squares affine transform from three or more (n, 2) point pairs."""
    design = np.column_stack([source, np.ones(len(source))])
    solved, *_ = np.linalg.lstsq(design, target, rcond=None)
    return np.vstack([solved.T, [0, 0, 1.0]])


def fit_homography(source: Points, target: Points) -> Matrix | None:
    """Least squares homography from four or more (n, 2) point pairs; None when they do not fix one."""
    fitted, _ = cv2.findHomography(source, target, 0)
    return None if fitted is None else np.asarray(fitted, dtype=np.float64)


def is_plausible(matrix: Matrix, width: float, height: float, *, most_stretch: float, most_scale: float) -> bool:
    """Whether a picture of this size keeps its sense, shape and horizon, as a flat piece under a camera does."""
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    depths = [float(matrix[2] @ (x, y, 1.0)) for x, y in corners]
    if min(depths) <= 0.2 * max(depths):
        return False
    told = [tell(matrix, corner) for corner in corners]
    return (
        len({t.mirror for t in told}) == 1
        and max(t.stretch for t in told) < most_stretch
        and all(1 / most_scale < t.scale < most_scale for t in told)
    )
