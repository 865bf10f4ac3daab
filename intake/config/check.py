"""Bounds of the arrival check, and what it takes for wrong."""

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section


class CheckRules(Section):
    """config/check.toml."""

    max_file_mb: PositiveInt
    max_megapixels: PositiveFloat
    max_edge_px: PositiveInt
    max_pages: PositiveInt
    min_edge_px: PositiveInt
    memory_mb: PositiveInt
    working_px: PositiveInt
    untrusted_ppi: tuple[float, ...]
    min_ppi: PositiveFloat
    max_ppi: PositiveFloat
    blank_spread: PositiveFloat
    soft_edge_px: PositiveFloat
    soft_min_edges: PositiveInt
    clipped_share: float = Field(gt=0, lt=1)
    piece_min_share: float = Field(gt=0, lt=1)
    piece_fill: float = Field(gt=0, lt=1)
    pieces_cover: float = Field(gt=0, lt=1)
    pieces_ratio: PositiveFloat
    bed_spread: PositiveFloat
    bed_difference: PositiveFloat
    stray_share: float = Field(gt=0, lt=1)
