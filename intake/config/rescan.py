"""The house rule for scans of each kind: resolution, depth, noise, banding and dust, and the levels beside them."""

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


class CaptureRow(Section):
    """How much of noise (CIE L*), banding (CIE L*) or dust (specks a million pixels of even ground) a scan may have."""

    most: PositiveFloat
    levels: dict[str, PositiveFloat]
    source: str
    sure: Literal["practice", "memory", "doubt"]
    how: str


class RescanRules(Section):
    """config/rescan.toml. The keys are explained there."""

    rows: tuple[RescanRow, ...]
    least_even_px: PositiveInt
    noise: CaptureRow
    film_noise: CaptureRow
    banding: CaptureRow
    dust: CaptureRow
