"""What an engine is: a detector finds lines of text, a reader says what stands in them. One file an engine.

Pictures and crops are (h, w, 3) uint8 RGB. An engine never leaves a call hanging: a reader that needs another process
ends it at its time limit and raises ``ReaderTimeout``. Whatever else goes wrong is any other exception; the read stage
makes findings of both. The same pixels give the same answer, whatever else is in the call.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from intake.model import ReaderSaid

Picture = NDArray[np.uint8]
Quad = NDArray[np.float32]  # (4, 2): the corners of a line in pixels, round the line


class ReaderTimeout(Exception):
    """A reader was stopped at its time limit."""


class Detector(Protocol):
    """Finds lines of text."""

    name: str

    def find(self, picture: Picture) -> list[Quad]:
        """Return one quad a line, in no promised order or direction."""


class Reader(Protocol):
    """Reads lines. ``name`` is the engine, then how it was set ("ppocr x1.3"): the same engine is no second opinion."""

    name: str

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        """Return what stands in each crop (one upright line each), in their order; "" where nothing does."""


@dataclass(frozen=True, slots=True)
class Engines:
    """``first`` reads every line; ``others`` in turn those that may be marks, until two engines agree."""

    detector: Detector
    first: Reader
    others: tuple[Reader, ...] = ()
