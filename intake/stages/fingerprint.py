"""Take the fingerprint of one part: keypoints and a small grey picture, border cut away."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.fingerprint import FingerprintRules
from intake.imaging.border import find_picture
from intake.imaging.features import Features, pack_frame
from intake.imaging.keypoints import describe
from intake.model import Box, FeatureSummary, Finding

VERSION = 3

Corners = tuple[tuple[float, float], ...]


def fingerprint(
    working: NDArray[np.uint8],
    stored_per_working: float,
    outline: Corners,
    kind: str,
    rules: FingerprintRules,
    *,
    origin: tuple[int, int] = (0, 0),
) -> tuple[FeatureSummary, Features]:
    """Describe ``working``, (h, w, 3) uint8 sRGB as stored: not turned, not mirrored, negatives not inverted.

    ``origin`` is the stored pixel at the working image's top left corner, ``outline`` the piece's corners in stored
    pixels or ().
    """
    grey = cv2.cvtColor(working, cv2.COLOR_RGB2GRAY)
    corners = (np.array(outline, dtype=np.float64).reshape(-1, 2) - origin) / stored_per_working
    left, top, right, bottom = _crop(grey, corners, kind, rules)
    picture = grey[top:bottom, left:right]
    scale = min(1.0, rules.frame_px / max(picture.shape))
    seen = _stretch(_resize(picture, scale))
    box = Box(
        origin[0] + round(left * stored_per_working),
        origin[1] + round(top * stored_per_working),
        max(1, round((right - left) * stored_per_working)),
        max(1, round((bottom - top) * stored_per_working)),
    )
    stored_per_frame = box.width / seen.shape[1]
    points, descriptors = describe(seen, rules)
    if len(corners) >= 3 and len(points):
        inside = _inside((corners - (left, top)) * scale, points, rules.outline_inset_px)
        points, descriptors = points[inside], descriptors[inside]
    small = _resize(seen, min(1.0, rules.small_px / max(seen.shape)))
    # Read back at once: what is compared in this run and in later ones is the same.
    made = Features(points, descriptors, *pack_frame(small), stored_per_frame, box, kind)
    features = Features.from_bytes(made.to_bytes())
    findings: tuple[Finding, ...] = ()
    if len(points) < rules.few_keypoints:
        told = f"only {len(points)} distinct places found: too little to compare it with other scans by sight"
        findings = (Finding("fingerprint", "few_keypoints", "note", told),)
    return FeatureSummary(len(points), seen.shape[1], seen.shape[0], stored_per_frame, box, findings), features


def _crop(
    grey: NDArray[np.uint8], corners: NDArray[np.float64], kind: str, rules: FingerprintRules
) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the picture proper in the working image."""
    height, width = grey.shape
    left, top, right, bottom = 0, 0, width, height
    if len(corners) >= 3:
        low, high = np.floor(corners.min(axis=0)), np.ceil(corners.max(axis=0))
        left, top = int(np.clip(low[0], 0, width - 1)), int(np.clip(low[1], 0, height - 1))
        right, bottom = int(np.clip(high[0], left + 1, width)), int(np.clip(high[1], top + 1, height))
    if kind in rules.kept_whole:
        return left, top, right, bottom
    sides = find_picture(
        grey[top:bottom, left:right],
        flat_share=rules.flat_share,
        reach_share=rules.border_reach_share,
        gap_share=rules.border_gap_share,
    )
    wide, high_px = right - left, bottom - top
    cut = (left + int(sides[0] * wide), top + int(sides[1] * high_px), left + int(np.ceil(sides[2] * wide)), 0)
    cut = (*cut[:3], top + int(np.ceil(sides[3] * high_px)))
    return cut if cut[2] - cut[0] > 1 and cut[3] - cut[1] > 1 else (left, top, right, bottom)


def _resize(grey: NDArray[np.uint8], scale: float) -> NDArray[np.uint8]:
    size = (max(1, round(grey.shape[1] * scale)), max(1, round(grey.shape[0] * scale)))
    return cv2.resize(grey, size, interpolation=cv2.INTER_AREA)


def _stretch(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The middle 98 % of the tones on the whole range, but never more than eightfold: flat stays flat."""
    low, high = np.percentile(grey, (1, 99))
    gain = 255 / max(high - low, 32.0)
    return np.clip((grey.astype(np.float32) - (low + high) / 2) * gain + 127.5, 0, 255).astype(np.uint8)


def _inside(corners: NDArray[np.float64], points: NDArray[np.float32], inset_px: float) -> NDArray[np.bool_]:
    polygon = corners.astype(np.float32).reshape(-1, 1, 2)
    far = [cv2.pointPolygonTest(polygon, (float(x), float(y)), True) for x, y in points[:, :2]]
    return np.array(far) >= inset_px
