"""Engines that find and read nothing: the protocol in its smallest form, and what tests of other stages use."""

from collections.abc import Sequence

from intake.model import ReaderSaid
from intake.ocr.protocol import Engines, Picture, Quad


class NullDetector:
    """Finds no line."""

    name = "null"

    def find(self, picture: Picture) -> list[Quad]:
        """Return nothing."""
        del picture
        return []


class NullReader:
    """Reads nothing in any line."""

    name = "null"

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        """Return an empty reading for each crop."""
        return [ReaderSaid(self.name, "", 0.0) for _ in crops]


def null_engines() -> Engines:
    """Return engines with which every part reads as blank."""
    return Engines(NullDetector(), NullReader())
