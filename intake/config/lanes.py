"""The lanes of the queue: which families a specialist wants to see by themselves."""

from typing import get_args

from pydantic import field_validator

from intake.config.section import Section
from intake.model import Kind


class Lane(Section):
    """One lane: its name in addresses, its words, and what puts a family into it: any of these."""

    name: str
    words: str
    kinds: frozenset[str] = frozenset()
    reasons: frozenset[str] = frozenset()
    countries: frozenset[str] = frozenset()

    @field_validator("kinds")
    @classmethod
    def _known_kinds(cls, value: frozenset[str]) -> frozenset[str]:
        if odd := value - set(get_args(Kind)):
            raise ValueError(f"unknown kinds: {sorted(odd)}")
        return value

    def holds(self, kinds: set[str], reasons: set[str], countries: set[str]) -> bool:
        """Is a family of these kinds, reasons and countries in the lane?"""
        return bool(self.kinds & kinds or self.reasons & reasons or self.countries & countries)


class LaneTable(Section):
    """The lanes, in the order in which the desk shows them."""

    lanes: tuple[Lane, ...]
