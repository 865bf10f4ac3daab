"""Bounds of the arrival check, and what it takes for wrong."""

from typing import Annotated

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section

Share = Annotated[float, Field(gt=0, lt=1)]


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
