"""Tell one piece scanned twice, or one scan saved anew, from two copies of a printing: by the sheet's own structure."""

import math
from dataclasses import replace

import numpy as np

from intake.config.match import SamePieceRules
from intake.imaging.geometry import Matrix, apply
from intake.imaging.grain import Grain
from intake.kin import ANEW, Match
from intake.model import Evidence

VERSION = 1
_ROUNDING_PX = 0.8  # of the smaller file's size, and what the print's place is told to

Size = tuple[int, int]


def worth_asking(match: Match, rules: SamePieceRules) -> bool:
    """Could the two parts be of one piece? Both of one kind, the caller sees to that."""
    if match.relation == "shared_element" or match.polarity_flip or match.mirror:
        return False
    return min(match.coverage_a, match.coverage_b) >= rules.coverage


def twice(match: Match, grain: Grain | None, onto_b: Matrix, a_px: Size, b_px: Size, rules: SamePieceRules) -> Match:
    """Return the match as one of the same piece where the sheets' own structure speaks for it, else as it is.

    ``onto_b`` leads from stored pixels of a's file to those of b's, as exactly as ``grain`` found it; ``a_px`` and
    ``b_px`` are the sizes of the files. A file saved anew lies frame on frame, which no second scan does.
    """
    if grain is None or grain.tiles < rules.tiles:
        return match
    says = round(float(np.interp(grain.together, rules.grain.at, rules.grain.says)), 4)
    words = (
        f"where print is flat, the sheet's own structure goes together by {grain.together:.0%} on {grain.tiles} places "
        f"({max(grain.chance, 0):.0%} by chance)"
    )
    evidence = [Evidence("grain", words, says)]
    if _is_anew(onto_b, a_px, b_px, rules):
        evidence.append(Evidence(ANEW, "frame lies on frame: one scan, saved anew", rules.anew))
    total = sum(e.weight for e in evidence)
    if total <= 0:
        return match
    probability = 1 / (1 + math.exp(-total))
    return replace(match, relation="same_piece", probability=round(probability, 4), evidence=tuple(evidence))


def _is_anew(onto_b: Matrix, a_px: Size, b_px: Size, rules: SamePieceRules) -> bool:
    """Do the corners of a's frame lie on those of b's, whatever quarter it was turned by?"""
    (wide, high), (to_wide, to_high) = a_px, b_px
    shapes = [abs(w * to_high / (h * to_wide) - 1) for w, h in ((wide, high), (high, wide))]
    if min(shapes) > rules.anew_frame:
        return False
    corners = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float64)
    frame = np.array([(0, 0), (to_wide, 0), (to_wide, to_high), (0, to_high)], np.float64)
    laid = apply(onto_b, corners)
    away = min(float(np.abs(laid - np.roll(frame, -n, axis=0)).max()) for n in range(4))
    return away <= max(_ROUNDING_PX, rules.anew_share * max(b_px))
