"""Tell one scan that was saved anew from a piece that was scanned again: frame lies on frame, to the pixel."""

import numpy as np

from intake.config.sets import SetRules
from intake.kin import Match

VERSION = 1

Size = tuple[int, int]
_LEAST_POINTS = 20


def saved_anew(match: Match, a_px: Size, b_px: Size, rules: SetRules) -> bool:
    """Is one file the other one saved anew: smaller, turned by quarters, mirrored, in other tones?

    ``a_px`` and ``b_px`` are width and height of the files in stored pixels. A piece that is scanned again never lies
    in its frame as before; here the matched points of the one stand where the frame alone puts them on the other.
    """
    if match.relation == "shared_element" or match.polarity_flip or len(match.points) < _LEAST_POINTS:
        return False
    points = np.asarray(match.points, np.float64)
    a, b = points[:, :2] / a_px, points[:, 2:] / b_px
    if match.mirror:
        a = np.column_stack([1 - a[:, 0], a[:, 1]])
    quarter = round(match.rotation / 90) % 4
    turned_px = a_px if quarter % 2 == 0 else a_px[::-1]
    if abs(turned_px[0] * b_px[1] / (turned_px[1] * b_px[0]) - 1) > rules.anew_frame:
        return False
    for _ in range(quarter):
        a = np.column_stack([1 - a[:, 1], a[:, 0]])
    away = np.abs(a - b) * b_px / max(b_px)
    return bool(np.median(away.max(axis=1)) <= rules.anew_share)
