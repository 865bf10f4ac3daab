"""Keypoints of one picture, spread over it, and their descriptors."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.fingerprint import FingerprintRules
from intake.imaging.permute import STEP


def describe(seen: NDArray[np.uint8], rules: FingerprintRules) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    """Keypoints (n, 4) x, y, size, angle in degrees, and their (n, 128) descriptors, of a (h, w) grey picture.

    RootSIFT after Arandjelovic & Zisserman (2012), in steps of 12/512, 0 to 15; the strongest of every field of a grid.
    """
    nothing = np.zeros((0, 4), np.float32), np.zeros((0, 128), np.uint8)
    if min(seen.shape) < rules.least_px:
        return nothing
    sift: Any = cv2.SIFT.create(
        contrastThreshold=rules.contrast_threshold, edgeThreshold=rules.edge_threshold, enable_precise_upscale=True
    )
    found = [(p, (p.pt[0], p.pt[1], p.size, p.angle, p.response)) for p in sift.detect(seen)]
    if not found:
        return nothing
    kept = _spread(np.array([values for _, values in found]), seen.shape, rules)
    keypoints, raw = sift.compute(seen, [found[i][0] for i in kept])
    points = np.array([(p.pt[0], p.pt[1], p.size, p.angle) for p in keypoints], np.float32)
    unit = np.sqrt(raw / np.maximum(raw.sum(axis=1, keepdims=True), 1e-9))
    return points, np.minimum(np.rint(unit / STEP), 15).astype(np.uint8)


def _spread(found: NDArray[np.float64], shape: tuple[int, ...], rules: FingerprintRules) -> list[int]:
    """Which of ``found`` (x, y, size, angle, response) to keep: the best of every grid field, then the next best."""
    across = max(1, round(shape[1] / rules.grid_px))
    field = (found[:, 1] // rules.grid_px) * (across + 1) + found[:, 0] // rules.grid_px
    order = np.lexsort((found[:, 3], found[:, 2], found[:, 1], found[:, 0], -found[:, 4], field))
    begins = np.r_[True, np.diff(field[order]) != 0]
    place = np.arange(len(order))
    rank = place - np.maximum.accumulate(np.where(begins, place, 0))
    best = order[np.lexsort((place, -found[order, 4], rank))]
    return sorted(best[: rules.keypoints].tolist())
