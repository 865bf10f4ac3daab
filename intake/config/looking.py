"""Looking at pictures on the desk."""

from typing import Annotated

from pydantic import Field, PositiveInt

from intake.config.section import Section

Quality = Annotated[int, Field(ge=50, le=100)]


class LookingRules(Section):
    """config/looking.toml. The keys are explained there."""

    tile_px: Annotated[int, Field(ge=128, le=1024)]
    most_px: Annotated[int, Field(ge=512, le=4096)]
    tile_quality: Quality
    pyramid_quality: Quality
    pyramid_tile_px: Annotated[int, Field(ge=128, le=1024, multiple_of=16)]
    pyramids_mb: PositiveInt
    open_pyramids: PositiveInt
    held_pictures: PositiveInt
    find_mb: PositiveInt
    find_megapixels: PositiveInt
    find_kept: PositiveInt
    find_minutes: PositiveInt
    find_hits: PositiveInt
    find_pieces: PositiveInt
    find_size_share: Annotated[float, Field(gt=0, lt=0.2)]
