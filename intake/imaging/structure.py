"""Which structure of one picture is found on the other, place by place, whatever became of the tones."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
STEP_PX = 4
_EYE = np.eye(3, dtype=np.float32)
_ONE_PALETTE = 0.6
_LEAST_SHARE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Colour directions that both pictures record, best told first: ``a`` and ``b`` are (3, k), each of length 1."""

    a: Floats
    b: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Structure:
    """Variances in levels squared, (rows, columns), a cell every STEP_PX pixels of the frame.

    ``of_a`` is what a shows around the cell in the colours that both record, ``left_a`` what of it b does not tell; so
    for b.
    """

    of_a: Floats
    left_a: Floats
    of_b: Floats
    left_b: Floats


def covariances(a: Floats, b: Floats, field: Floats, window_px: int) -> Floats:
    """(rows, columns, 6, 6): how the channels of a (first three) and b go together in a window around each cell, as far
    as it lies in the field.

    ``a`` and ``b`` are (h, w, 3) float32 in one frame, ``field`` is (h, w) float32, 1 where both show the picture.
    """
    # told from the middle of the tones, float32 keeps variances of a level
    planes = [p - 128 for picture in (a, b) for p in cv2.split(picture)]
    share = np.maximum(_mean(field, window_px), _LEAST_SHARE)
    held = [p * field for p in planes]
    means = [_mean(p, window_px) / share for p in held]
    both = np.empty((*means[0].shape, 6, 6), np.float32)
    for i in range(6):
        for j in range(i, 6):
            both[..., i, j] = both[..., j, i] = _mean(held[i] * planes[j], window_px) / share - means[i] * means[j]
    return both


def shared_ways(both: Floats, cells: NDArray[np.bool_], noise: float, least: float) -> Ways:
    """The colour directions in which the two go together over ``cells`` as a whole (canonical correlation; Hotelling
    1936), those correlated by at least ``least`` and the best in any case. Black and white film shares one with
    a painting.

    Cells on which both show more than on the middle one are asked, as noise has no way; each has the same say, so that
    a hard edge or a changed place does not rule the rest.
    """
    if not cells.any():
        return Ways(_EYE, _EYE)
    shown = [np.trace(x, axis1=-2, axis2=-1) for x in (both[..., :3, :3], both[..., 3:, 3:])]
    drawn = cells & np.logical_and(*(x >= np.median(x[cells]) for x in shown))
    chosen = both[drawn if drawn.any() else cells].astype(np.float64)
    weight = 1 / (np.trace(chosen, axis1=1, axis2=2) + 6 * noise)
    total = np.einsum("n,nij->ij", weight, chosen) / weight.sum()
    aa, bb, ab = total[:3, :3] + noise * np.eye(3), total[3:, 3:] + noise * np.eye(3), total[:3, 3:]
    root_a, root_b = (np.linalg.inv(np.linalg.cholesky(m)) for m in (aa, bb))
    left, strength, right = np.linalg.svd(root_a @ ab @ root_b.T)
    if strength[0] < _ONE_PALETTE:  # another palette: no direction of the whole is shared, but each place has its own
        return Ways(_EYE, _EYE)
    k = max(1, int((strength >= least).sum()))
    ways_a, ways_b = (root_a.T @ left)[:, :k], (root_b.T @ right.T)[:, :k]
    return Ways(
        (ways_a / np.linalg.norm(ways_a, axis=0)).astype(np.float32),
        (ways_b / np.linalg.norm(ways_b, axis=0)).astype(np.float32),
    )


def structure(both: Floats, ways: Ways, noise: float) -> Structure:
    """Local linear regression of each picture on the other. Within a window any curve of film, ink or light is nearly a
    straight line, so what is left over is other drawing or noise. ``noise`` (levels squared) keeps quiet places quiet.
    """
    aa = ways.a.T @ both[..., :3, :3] @ ways.a
    bb = ways.b.T @ both[..., 3:, 3:] @ ways.b
    ab = ways.a.T @ both[..., :3, 3:] @ ways.b
    ba = np.swapaxes(ab, -1, -2)
    told_a = np.einsum("...ij,...ji->...", ab, np.linalg.solve(bb + noise * ways.b.T @ ways.b, ba))
    told_b = np.einsum("...ij,...ji->...", ba, np.linalg.solve(aa + noise * ways.a.T @ ways.a, ab))
    of_a, of_b = (np.maximum(np.trace(m, axis1=-2, axis2=-1), 0) for m in (aa, bb))
    return Structure(of_a, np.maximum(of_a - told_a, 0), of_b, np.maximum(of_b - told_b, 0))


def seen_cells(field: Floats, window_px: int, least: float) -> NDArray[np.bool_]:
    """Cells that lie in the field with at least so much of their window."""
    at = (slice(STEP_PX // 2, None, STEP_PX), slice(STEP_PX // 2, None, STEP_PX))
    return (field[at] > 0) & (_mean(field, window_px) >= least)


def _mean(plane: Floats, window_px: int) -> Floats:
    """(rows, columns): the mean over the cells of a window around each cell; nothing lies beyond the plane."""
    rows, columns = (len(range(STEP_PX // 2, n, STEP_PX)) for n in plane.shape)
    high, wide = rows * STEP_PX - plane.shape[0], columns * STEP_PX - plane.shape[1]
    plane = plane[: rows * STEP_PX, : columns * STEP_PX]
    if high > 0 or wide > 0:
        plane = cv2.copyMakeBorder(plane, 0, max(0, high), 0, max(0, wide), cv2.BORDER_CONSTANT, value=0)
    cells = cv2.resize(plane, (columns, rows), interpolation=cv2.INTER_AREA)
    side = round(window_px / STEP_PX) | 1
    return np.asarray(cv2.blur(cells, (side, side), borderType=cv2.BORDER_CONSTANT), np.float32)
