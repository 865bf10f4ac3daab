"""Do two registered pictures show the same thing, place by place? Local correlation of tones and of edges."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.features import Features
from intake.imaging.geometry import Matrix, Points, apply, tell

_WINDOW_PX = 13
_STEP_PX = 5
_SHIFTS = tuple((dx, dy) for dx in (-3, 0, 3) for dy in (-3, 0, 3))
_TEXTURE_LEVELS = 9.0
_LEAST_EDGE = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Agreement:
    """Correlations (-1 to 1, NaN where nothing can be said) on a grid over the picture that shows the piece smaller.

    ``alike`` are those of tones, with the polarity's sign; ``contrary`` those of the opposite polarity: what chance
    alone would give. ``edges`` tell whether edges run the same way, whichever side is the lighter: a repainted design
    keeps them. ``cell_a`` and ``cell_b`` are one grid cell's share of each picture's area, ``overlap_a`` and
    ``overlap_b`` the share of each that lies in the other; ``centres`` (rows, columns, 2) are the cells' in a's frame
    pixels.
    """

    alike: NDArray[np.float32]
    contrary: NDArray[np.float32]
    edges: NDArray[np.float32]
    cell_a: float
    cell_b: float
    overlap_a: float
    overlap_b: float
    centres: Points


def agree(a: Features, b: Features, transform: Matrix, *, polarity_flip: bool) -> Agreement:
    """Lay one small picture on the other by ``transform`` (a's frame pixels to b's) and compare them cell by cell.

    Each cell may move by 3 px of 256 before it is compared, since paper stretches and lenses bend.
    """
    scale_a, scale_b = np.diag([a.frame_scale] * 2 + [1.0]), np.diag([b.frame_scale] * 2 + [1.0])
    small: Matrix = np.asarray(scale_b @ transform @ np.linalg.inv(scale_a), np.float64)
    back: Matrix = np.asarray(np.linalg.inv(small), np.float64)
    growth = tell(small, (a.frame.shape[1] / 2, a.frame.shape[0] / 2)).scale
    into_b = growth <= 1
    moving, fixed = (a.frame, b.frame) if into_b else (b.frame, a.frame)
    shrink = growth if into_b else 1 / growth
    laid, seen = _lay(moving, small if into_b else back, fixed.shape, shrink)
    fixed_px = cv2.GaussianBlur(fixed.astype(np.float32), (0, 0), 1.0)
    grid = _grid(fixed.shape)
    alike, contrary, edges = _correlate(laid, fixed_px, seen, grid, -1.0 if polarity_flip else 1.0)
    overlap_px = float(seen.sum())
    share_fixed = overlap_px / seen.size
    share_moving = min(1.0, overlap_px / (moving.size * shrink**2))
    cell_fixed = _STEP_PX**2 / seen.size
    cell_moving = _STEP_PX**2 / (moving.size * shrink**2)
    cells = (cell_moving, cell_fixed) if into_b else (cell_fixed, cell_moving)
    overlaps = (share_moving, share_fixed) if into_b else (share_fixed, share_moving)
    return Agreement(
        alike, contrary, edges, *cells, *overlaps, _centres(grid, back if into_b else None) / a.frame_scale
    )


def _grid(shape: tuple[int, ...]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the cells' centres."""
    edge = _WINDOW_PX // 2
    return np.arange(edge, shape[0] - edge, _STEP_PX), np.arange(edge, shape[1] - edge, _STEP_PX)


def _centres(grid: tuple[NDArray[np.intp], NDArray[np.intp]], back: Matrix | None) -> Points:
    y, x = np.meshgrid(*grid, indexing="ij")
    flat = np.column_stack([x.ravel(), y.ravel()]).astype(np.float64)
    return (flat if back is None else apply(back, flat)).reshape(*x.shape, 2)


def _lay(
    moving: NDArray[np.uint8], matrix: Matrix, shape: tuple[int, ...], shrink: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """``moving`` warped into a picture of ``shape``, softened to its fineness, and where it covers it (1 or 0)."""
    size = (shape[1], shape[0])
    soft = cv2.GaussianBlur(moving.astype(np.float32), (0, 0), float(np.clip(1 / shrink, 1.0, 8.0)))
    laid = cv2.warpPerspective(soft, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.warpPerspective(np.ones(moving.shape, np.uint8), matrix, size, flags=cv2.INTER_NEAREST)
    return laid, seen.astype(np.float32)


def _mean(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    blurred: NDArray[np.float32] = cv2.boxFilter(picture, cv2.CV_32F, (_WINDOW_PX, _WINDOW_PX))
    return blurred


def directions(picture: NDArray[np.float32], least: float = 1e-6) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """How strongly and which way edges run, in double angles: the same whichever side is the lighter.

    Strength is the root of the gradient's, so that one hard edge does not drown all others; gradients below ``least``
    (levels a pixel) count for less.
    """
    x, y = cv2.Sobel(picture, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(picture, cv2.CV_32F, 0, 1, scale=1 / 8)
    strength = np.maximum(cv2.magnitude(x, y), least)
    scaled = strength * np.sqrt(strength)
    return (x * x - y * y) / scaled, 2 * x * y / scaled


def _correlate(
    laid: NDArray[np.float32],
    fixed: NDArray[np.float32],
    seen: NDArray[np.float32],
    grid: tuple[NDArray[np.intp], NDArray[np.intp]],
    sign: float,
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Of every grid cell how far tones agree, disagree, and how far the edges run the same way (see Agreement)."""
    mean_laid, mean_fixed = _mean(laid), _mean(fixed)
    std_laid = np.sqrt(np.maximum(_mean(laid * laid) - mean_laid**2, 0))
    std_fixed = np.sqrt(np.maximum(_mean(fixed * fixed) - mean_fixed**2, 0))
    across_laid, along_laid = directions(laid)
    across_fixed, along_fixed = directions(fixed)
    much_laid = np.maximum(_mean(across_laid**2 + along_laid**2), _LEAST_EDGE)
    much_fixed = np.maximum(_mean(across_fixed**2 + along_fixed**2), _LEAST_EDGE)
    rows, columns = grid
    at = np.ix_(rows, columns)
    highest = np.full((len(rows), len(columns)), -1.0, np.float32)
    lowest, edges = np.full_like(highest, 1.0), highest.copy()
    for dx, dy in _SHIFTS:
        there = np.ix_((rows - dy) % fixed.shape[0], (columns - dx) % fixed.shape[1])
        product = _mean(np.roll(laid, (dy, dx), (0, 1)) * fixed)[at]
        spread = np.maximum(std_laid[there], 2.0) * np.maximum(std_fixed[at], 2.0)
        ncc = (product - mean_laid[there] * mean_fixed[at]) / spread
        np.maximum(highest, ncc, out=highest)
        np.minimum(lowest, ncc, out=lowest)
        same = np.roll(across_laid, (dy, dx), (0, 1)) * across_fixed
        same += np.roll(along_laid, (dy, dx), (0, 1)) * along_fixed
        np.maximum(edges, _mean(same)[at] / np.sqrt(much_laid[there] * much_fixed[at]), out=edges)
    textured = (std_laid[at] > _TEXTURE_LEVELS) | (std_fixed[at] > _TEXTURE_LEVELS)
    textured &= _mean(seen)[at] > 0.95
    alike, contrary = (highest, -lowest) if sign > 0 else (-lowest, highest)
    return np.where(textured, alike, np.nan), np.where(textured, contrary, np.nan), np.where(textured, edges, np.nan)
