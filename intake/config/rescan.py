"""The house rule for scans of each kind: resolution and depth, with the levels it is held against."""

from typing import Literal

from pydantic import PositiveFloat, PositiveInt

from intake.config.section import Section
from intake.model import Kind


class RescanRow(Section):
    """One row: what scans of these kinds should have, who says so, how sure that is, what to do differently."""

    kinds: frozenset[Kind]
    ppi: PositiveFloat
    bits: PositiveInt
    levels: dict[str, PositiveFloat]
    source: str
    sure: Literal["practice", "memory", "doubt"]
    how: str


class RescanRules(Section):
    """config/rescan.toml. The keys are explained there."""

    rows: tuple[RescanRow, ...]
