"""Places that look hand-signed on a picture, by what is measured of them; and whether another picture shows one too."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.signature import SignatureRules
from intake.imaging.handwriting import Written, written_places
from intake.imaging.nearer import Plane, alike

Seen = Literal["present", "absent", "covered"]
_OF_LOGARITHM = ("height", "aspect", "apart", "even_ink", "even_ground", "width_px", "length")


@dataclass(frozen=True, slots=True)
class SignedPlace:
    """A place as shares of the picture (left, top, width, height), and how certain it is that it is hand-written."""

    left: float
    top: float
    width: float
    height: float
    certainty: float


def signed_places(picture: NDArray[np.uint8], rules: SignatureRules) -> list[SignedPlace]:
    """The places on (h, w, 3) RGB that are worth showing, the surest first; of those that overlap the surest alone."""
    told = sorted(((certainty(w.measures, rules), w) for w in written_places(picture)), key=lambda t: -t[0])
    made: list[Written] = []
    kept: list[SignedPlace] = []
    for sure, w in told:
        if sure < rules.shown or len(kept) == rules.most:
            break
        if not any(_overlap(w, other) for other in made):
            made.append(w)
            kept.append(SignedPlace(w.left, w.top, w.width, w.height, sure))
    return kept


def looks_signed(picture: NDArray[np.uint8], place: tuple[float, float, float, float], rules: SignatureRules) -> bool:
    """Whether half of a place worth showing lies in this one (left, top, width, height as shares of the picture)."""
    left, top, width, height = place
    for w in written_places(picture, place):
        wide = min(w.left + w.width, left + width) - max(w.left, left)
        high = min(w.top + w.height, top + height) - max(w.top, top)
        held = max(0.0, wide) * max(0.0, high) > 0.5 * w.width * w.height
        if held and certainty(w.measures, rules) >= rules.shown:
            return True
    return False


def certainty(measures: Mapping[str, float], rules: SignatureRules) -> float:
    """The probability by the weights of config/signature.toml."""
    total = rules.before
    for name, weight in rules.weights.items():
        total += weight * said(name, measures[name])
    return 1 / (1 + math.exp(-max(-60.0, min(60.0, total))))


def said(name: str, value: float) -> float:
    """A measure as it is weighed: itself, or its logarithm where ratios count."""
    return math.log(max(value, 1e-3)) if name in _OF_LOGARITHM else value


def seen_on(own: Plane, other: Plane, rules: SignatureRules) -> Seen:
    """Whether the place, cut from another picture and settled, shows the same strokes, other things, or next to
    nothing."""
    if alike(own, other).share >= rules.present:
        return "present"
    return "covered" if _contrast(other) < rules.even * _contrast(own) else "absent"


def _contrast(plane: Plane) -> float:
    """Of what is drawn finely, less the scan's own noise: levels."""
    fine = cv2.GaussianBlur(plane, (0, 0), 1.0) - cv2.GaussianBlur(plane, (0, 0), 6.0)
    return float(fine.std())


def _overlap(a: Written, b: Written) -> bool:
    wide = min(a.left + a.width, b.left + b.width) - max(a.left, b.left)
    high = min(a.top + a.height, b.top + b.height) - max(a.top, b.top)
    return max(0.0, wide) * max(0.0, high) > 0.2 * min(a.width * a.height, b.width * b.height)
