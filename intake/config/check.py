"""Bounds of the arrival check, and what it takes for wrong."""

from typing import Annotated

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section

Share = Annotated[float, Field(gt=0, lt=1)]


class Graduation(Section):
    """A row of ticks as rulers have it: millimetres from tick to tick, and every how manyth is longer, the longest
    first."""

    name: str
    tick_mm: PositiveFloat
    steps: tuple[PositiveInt, ...] = Field(min_length=2)
    source: str


class RulerRules(Section):
    """What is taken for a ruler in the frame. The keys are explained in config/check.toml."""

    reading_px: PositiveInt
    least_ticks: PositiveInt
    least_majors: PositiveInt
    tick_depth: Share
    even_share: Share
    uneven_share: Share
    longer_share: Share
    graded_share: Share
    plane_share: Share
    agree_share: Share
    graduations: tuple[Graduation, ...] = Field(min_length=1)


class CheckRules(Section):
    """config/check.toml. The keys are explained there."""

    max_file_mb: PositiveInt
    max_megapixels: PositiveFloat
    max_edge_px: PositiveInt
    max_pages: PositiveInt
    min_edge_px: PositiveInt
    whole_mb: PositiveInt
    memory_mb: PositiveInt
    working_px: PositiveInt
    default_ppi: tuple[float, ...]
    min_ppi: PositiveFloat
    max_ppi: PositiveFloat
    detail_levels: PositiveFloat
    blank_share: Share
    soft_edge_px: PositiveFloat
    clipped_share: Share
    bed_share: Share
    bed_levels: PositiveFloat
    piece_min_share: Share
    piece_fill: Share
    pieces_hold: Share
    bridge_shares: tuple[float, ...] = Field(min_length=1)
    piece_pad_share: Share
    pieces_ratio: PositiveFloat
    pieces_cover: Share
    stray_share: Share
    ruler: RulerRules
