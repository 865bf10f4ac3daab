"""Lines that were read, as places of a frame: a text and its four corners in frame pixels."""

from collections.abc import Sequence

import cv2
import numpy as np

from intake.imaging.geometry import Points
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import FrameBox, Mask

Line = tuple[str, Points]


def texts_in(lines: Sequence[Line], box: FrameBox) -> str:
    """The lines whose middle lies in the box, from the top."""
    held = [
        (float(c[:, 1].mean()), text)
        for text, c in lines
        if box[0] - 8 <= c[:, 0].mean() <= box[2] + 8 and box[1] - 8 <= c[:, 1].mean() <= box[3] + 8
    ]
    return " / ".join(text for _, text in sorted(held))


def under_polygons(polygons: Sequence[Points], shape: tuple[int, int]) -> Mask:
    """The cells under four-sided places (n, 2; frame pixels), grown by three."""
    made = np.zeros(shape, np.uint8)
    for corners in polygons:
        if np.isfinite(corners).all():
            points = np.clip(corners / STEP_PX, -1e4, 1e4).round().astype(np.int32)
            cv2.fillConvexPoly(made, cv2.convexHull(points), 1)
    return cv2.dilate(made, np.ones((7, 7), np.uint8)) > 0
