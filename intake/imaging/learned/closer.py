"""A closer look at two pictures that keypoints left undecided: a small network names places that are the same.

Coarse to fine without keypoints, after Sun et al., LoFTR (2021): it finds cells of 8 px of the 256 px frames that show
the same, and says how likely both show one design. A homography is fitted to the cells (RANSAC of OpenCV).
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.features import Features
from intake.imaging.geometry import Matrix, Points, apply, is_plausible
from intake.imaging.learned import session
from intake.imaging.learned.glance import Turn, turned

_CELL_PX, _PAD_PX = 8, 16
_LEAST_PLACES = 8
_NEAR_PX = 7.0


@dataclass(frozen=True, slots=True, eq=False)
class Closer:
    """``transform`` maps a's frame pixels to b's; ``places_a`` and ``places_b`` (n, 2) are the places that agree with
    it, ``agreeing`` of all cells of the picture that has fewer. ``says`` are the network's own log-odds that both show
    one design."""

    turn: Turn
    transform: Matrix
    places_a: Points
    places_b: Points
    agreeing: float
    says: float


def look_closer(a: Features, b: Features, turn: Turn, *, most_stretch: float, most_scale: float) -> Closer | None:
    """Compare a, turned, with b. None where no plausible geometry joins them."""
    seen = turned(a.frame, turn)
    found, says = _mates(seen, b.frame)
    if len(found) < _LEAST_PLACES:
        return None
    flat, near = cv2.findHomography(found[:, :2], found[:, 2:], cv2.RANSAC, _NEAR_PX, maxIters=1000)
    if flat is None or near.sum() < _LEAST_PLACES:
        return None
    near = near.ravel().astype(bool)
    if not is_plausible(flat, seen.shape[1], seen.shape[0], most_stretch=most_stretch, most_scale=most_scale):
        return None
    scale_a, scale_b = (np.diag([f.frame_scale] * 2 + [1.0]) for f in (a, b))
    to_seen = _turning(a.frame.shape, turn)
    transform: Matrix = np.linalg.inv(scale_b) @ flat @ to_seen @ scale_a
    back = np.linalg.inv(to_seen @ scale_a)
    cells = min(picture.size for picture in (a.frame, b.frame)) / _CELL_PX**2
    return Closer(
        turn,
        transform,
        apply(np.asarray(back, np.float64), found[near, :2]),
        found[near, 2:] / b.frame_scale,
        min(1.0, float(near.sum()) / cells),
        says,
    )


def _mates(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> tuple[Points, float]:
    """(n, 4) x, y in a and in b of cells that are each other's likeliest mates, and the log-odds of one design."""
    (pixels_a, seen_a), (pixels_b, seen_b) = _padded(a), _padded(b)
    both, mate_a, _, verdict = session("closer").run(
        None, {"a": pixels_a, "seen_a": seen_a, "b": pixels_b, "seen_b": seen_b}
    )
    sure = np.exp(both[0].astype(np.float64)) / (1 + np.exp(-mate_a[0].astype(np.float64)))[:, None]
    to_b, rows = sure.argmax(axis=1), np.arange(len(sure))
    kept = np.flatnonzero((sure.argmax(axis=0)[to_b] == rows) & (sure[rows, to_b] > 0.05))
    wide_a, wide_b = pixels_a.shape[3] // _CELL_PX, pixels_b.shape[3] // _CELL_PX
    at_a = np.column_stack([kept % wide_a, kept // wide_a]) * _CELL_PX + _CELL_PX / 2
    at_b = np.column_stack([_centre(sure[n], int(to_b[n]), wide_b) for n in kept]).T if len(kept) else np.zeros((0, 2))
    return np.column_stack([at_a, at_b]).astype(np.float64), float(verdict[0])


def _centre(sure: NDArray[np.float64], best: int, wide: int) -> tuple[float, float]:
    """The centre of what is sure in the cells around the best, in pixels."""
    row, column = divmod(best, wide)
    high = len(sure) // wide
    rows, columns = np.s_[max(0, row - 1) : min(high, row + 2)], np.s_[max(0, column - 1) : min(wide, column + 2)]
    weight = sure.reshape(high, wide)[rows, columns]
    y, x = np.mgrid[rows, columns]
    total = weight.sum()
    return tuple(float((weight * axis).sum() / total) * _CELL_PX + _CELL_PX / 2 for axis in (x, y))  # type: ignore[return-value]


def _padded(picture: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    high, wide = picture.shape
    size = (-(-high // _PAD_PX) * _PAD_PX, -(-wide // _PAD_PX) * _PAD_PX)
    pixels, seen = np.zeros((1, 1, *size), np.float32), np.zeros((1, *size), np.float32)
    pixels[0, 0, :high, :wide] = picture.astype(np.float32) / 255
    seen[0, :high, :wide] = 1
    return pixels, seen


def _turning(shape: tuple[int, ...], turn: Turn) -> Matrix:
    """From pixels of a picture of this shape to those of the same under the turn."""
    high, wide = float(shape[0]), float(shape[1])
    matrix: Matrix = np.eye(3)
    if turn.variant.mirror:
        matrix = np.array([[-1, 0, wide], [0, 1, 0], [0, 0, 1.0]])
    for _ in range(turn.quarters):
        matrix = np.array([[0, 1, 0], [-1, 0, wide], [0, 0, 1.0]]) @ matrix
        high, wide = wide, high
    return matrix
