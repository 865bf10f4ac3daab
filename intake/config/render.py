"""Finding the piece's own edge, and the positive of a negative."""

from typing import Annotated

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section

Share = Annotated[float, Field(gt=0, lt=1)]


class RenderRules(Section):
    """config/render.toml. The keys are explained there."""

    bed_share: Share
    bed_levels: tuple[PositiveFloat, ...] = Field(min_length=1)
    bed_tint: PositiveFloat
    most_strays: PositiveInt
    piece_share: Share
    piece_fill: Share
    piece_taper: Share
    margin_cream: PositiveFloat
    margin_shadow: PositiveFloat
    shadow_share: Share
    edge_share: Share
    cloth_ring: Share
    cloth_least: PositiveFloat
    cloth_tint: PositiveFloat
    cloth_cream: PositiveFloat
    cloth_texture: PositiveFloat
    cloth_to_paper: PositiveFloat
    cloth_levels: PositiveFloat
    cloth_share: tuple[float, float]
    cloth_fill: Share
    film_gamma: PositiveFloat
    film_toe: PositiveFloat
    film_shoulder: PositiveFloat
    grey_density: PositiveFloat
    paper_range: PositiveFloat
    paper_most: PositiveFloat
    paper_white: Share
    paper_black: Share
    white_trust: Share
    low_percent: PositiveFloat
    high_percent: PositiveFloat
