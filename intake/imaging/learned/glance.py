"""What a whole picture shows at a glance: short vectors, for mates that share too few keypoints to be proposed.

The vector of a picture as it is lies in the index; a picture asks with sixteen, of itself in either polarity,
mirrored or not, turned by quarters. Learnt (tests/bench/train) so that film, print, brush and light leave it nearly as
it is.
"""

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.learned import session
from intake.imaging.permute import VARIANTS, Variant

LENGTH = 128
_SIDE_PX = 112
_STEPS = 127


class Turn(NamedTuple):
    """How one picture is turned to look like another: variant first, then ``quarters`` counter-clockwise."""

    variant: Variant
    quarters: int


TURNS = tuple(Turn(variant, quarters) for variant in VARIANTS for quarters in range(4))


def turned(picture: NDArray[np.uint8], turn: Turn) -> NDArray[np.uint8]:
    """A grey picture (h, w) under a turn."""
    seen = 255 - picture if turn.variant.polarity_flip else picture
    seen = seen[:, ::-1] if turn.variant.mirror else seen
    return np.ascontiguousarray(np.rot90(seen, turn.quarters))


def glances(frame: NDArray[np.uint8]) -> NDArray[np.int8]:
    """(16, 128) int8: the vectors of a grey picture under each of TURNS, in steps of 1/127; the first is as it is."""
    square = cv2.resize(cv2.blur(frame, (3, 3)), (_SIDE_PX, _SIDE_PX), interpolation=cv2.INTER_AREA)
    seen = np.stack([turned(np.asarray(square, np.uint8), turn) for turn in TURNS])
    (vectors,) = session("glance").run(None, {"x": seen[:, None].astype(np.float32) / 255})
    return np.rint(vectors * _STEPS).astype(np.int8)


def nothing() -> NDArray[np.int8]:
    """The vectors of a picture with too little in it to be told at a glance: none."""
    return np.zeros((0, LENGTH), np.int8)


def likeness(asking: NDArray[np.int8], held: NDArray[np.int8]) -> NDArray[np.float32]:
    """(turns, parts) cosines of ``asking`` (turns, 128) and the vectors ``held`` (parts, 128) of pictures as they are.
    Sums of whole numbers below 2**24, so every machine gets the same."""
    products: NDArray[np.float32] = asking.astype(np.float32) @ held.astype(np.float32).T
    return products / np.float32(_STEPS**2)


def likest(a: NDArray[np.int8], b: NDArray[np.int8]) -> tuple[float, Turn] | None:
    """How alike two pictures look at a glance (a cosine), and how a is turned to look like b; None without vectors."""
    if not len(a) or not len(b):
        return None
    cosines = likeness(a, b[:1])[:, 0]
    best = int(cosines.argmax())
    return float(cosines[best]), TURNS[best]
