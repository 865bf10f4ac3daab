"""By how much a piece lies askew: from its outline, or from the straight lines printed on it."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.outline import Corners

_LOOK_PX = 1024
# lines count from this share of the long edge; together they must be so many of its lengths, and agree so well
_LEAST_SHARE, _LEAST_LENGTHS, _AGREE_DEG = 0.04, 1.0, 0.25


def skew_of_outline(corners: Corners, most_deg: float) -> float | None:
    """Return the turn of four corners (clockwise from the top left) to the scan's axes: degrees clockwise, or None
    beyond ``most_deg``. Long sides count by their length."""
    sides = np.roll(corners, -1, axis=0) - corners
    # a side's turn from the axis that it is nearest to
    angles = np.degrees(np.arctan2(sides[:, 1], sides[:, 0])) - np.array([0, 90, 180, 270])
    angles = (angles + 180) % 360 - 180
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    skew = float((angles * lengths).sum() / max(float(lengths.sum()), 1e-6))
    return _told(skew, most_deg)


def skew_of_lines(image: NDArray[np.uint8], most_deg: float) -> float | None:
    """Return the turn of the straight lines printed on an (h, w, 3) image: borders, rules, rows of type. None where
    there are too few, or where they do not agree."""
    factor = max(1.0, max(image.shape[:2]) / _LOOK_PX)
    size = (max(1, round(image.shape[1] / factor)), max(1, round(image.shape[0] / factor)))
    grey = cv2.cvtColor(np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA)), cv2.COLOR_RGB2GRAY)
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(grey)[0]
    if found is None:
        return None
    x0, y0, x1, y1 = found.reshape(-1, 4).T.astype(np.float64)
    lengths = np.hypot(x1 - x0, y1 - y0)
    angles = (np.degrees(np.arctan2(y1 - y0, x1 - x0)) + 45) % 90 - 45
    keep = (np.abs(angles) <= most_deg) & (lengths >= _LEAST_SHARE * max(size))
    if lengths[keep].sum() < _LEAST_LENGTHS * max(size):
        return None
    middle = _weighted_median(angles[keep], lengths[keep])
    if _weighted_median(np.abs(angles[keep] - middle), lengths[keep]) > _AGREE_DEG:
        return None
    near = keep & (np.abs(angles - middle) <= _AGREE_DEG)
    return _told(float((angles[near] * lengths[near]).sum() / lengths[near].sum()), most_deg)


def _told(skew: float, most_deg: float) -> float | None:
    return round(skew, 2) + 0.0 if abs(skew) <= most_deg else None


def _weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])
