"""The words for each kind, the order in which roles are shown, and which kinds are never matched."""

from typing import get_args

from pydantic import field_validator

from intake.config.section import Section
from intake.model import Kind


class KindWords(Section):
    """How a kind is called on the desk. ``matched`` is false where a picture of this kind tells nothing of a design."""

    words: str
    order: int
    matched: bool = True


class KindTable(Section):
    """One row for every kind of the model, none left out."""

    kinds: dict[str, KindWords]

    @field_validator("kinds")
    @classmethod
    def _every_kind(cls, value: dict[str, KindWords]) -> dict[str, KindWords]:
        if odd := set(value) ^ set(get_args(Kind)):
            raise ValueError(f"rows missing or unknown: {sorted(odd)}")
        return value
