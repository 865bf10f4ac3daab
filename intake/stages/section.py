"""Tell two pictures of one sheet in sections from two copies of it: they share a strip at an edge of each."""

import numpy as np
from numpy.typing import NDArray

from intake.config.sets import SetRules
from intake.kin import Match, Section
from intake.model import Box

VERSION = 1

_MOST_SKEW_DEG = 10.0


def section(match: Match, box_a: Box, box_b: Box, rules: SetRules) -> Section | None:
    """The two as sections, or None. ``box_a`` and ``box_b`` are the parts' boxes in stored pixels.

    The overlap of the two runs from edge to edge along one side of each, ends at one edge, and takes no more than
    ``rules.most_shared`` of either. Pictures that are mirrored, reversed, or of another scale are no sections, nor is
    anything told by a match below ``rules.least_probability``.
    """
    if match.probability < rules.least_probability:
        return None
    skew = (match.rotation + 45) % 90 - 45
    if match.relation == "shared_element" or match.mirror or match.polarity_flip or abs(skew) > _MOST_SKEW_DEG:
        return None
    if abs(match.scale - 1) > rules.same_scale:
        return None
    onto_b = np.asarray(match.transform, np.float64).reshape(3, 3)
    if abs(np.linalg.det(onto_b)) < 1e-9:
        return None
    shared_a = _strip(np.asarray(np.linalg.inv(onto_b), np.float64), box_b, box_a, rules)
    shared_b = _strip(onto_b, box_a, box_b, rules)
    if shared_a is None or shared_b is None:
        return None
    return Section(match.a, match.b, round(shared_a, 3), round(shared_b, 3))


def _strip(transform: NDArray[np.float64], other: Box, own: Box, rules: SetRules) -> float | None:
    """The share of ``own`` that ``other`` covers, where that is a strip along one edge."""
    right, bottom = other.left + other.width, other.top + other.height
    corners = np.array([(x, y, 1.0) for x in (other.left, right) for y in (other.top, bottom)]) @ transform.T
    if (np.abs(corners[:, 2]) < 1e-9).any():
        return None
    points = corners[:, :2] / corners[:, 2:]
    shares = (points - (own.left, own.top)) / (own.width, own.height)
    # Skewed a little, the other's box is as wide as the middle of its sides.
    low, high = np.sort(shares, axis=0)[:2].mean(axis=0), np.sort(shares, axis=0)[2:].mean(axis=0)
    for along, across in ((0, 1), (1, 0)):
        if _spans(low[along], high[along], rules) and _ends_once(low[across], high[across], rules):
            share = float(min(1.0, high[across]) - max(0.0, low[across]))
            return share if rules.least_shared <= share <= rules.most_shared else None
    return None


def _spans(low: float, high: float, rules: SetRules) -> bool:
    return low <= rules.edge_share and high >= 1 - rules.edge_share


def _ends_once(low: float, high: float, rules: SetRules) -> bool:
    return (low <= rules.edge_share) != (high >= 1 - rules.edge_share)
