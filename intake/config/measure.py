"""How a measured size is held against the formats."""

from typing import Annotated

from pydantic import Field, PositiveFloat

from intake.config.section import Section


class MeasureRules(Section):
    """config/measure.toml. The keys are explained there."""

    format_kinds: frozenset[str]
    near_share: Annotated[float, Field(gt=0, lt=0.1)]
    loose_factor: Annotated[float, Field(ge=1)]
    loose_least_mm: PositiveFloat
    off_size_share: Annotated[float, Field(gt=0, lt=0.5)]
    near_formats: int
    edge_px: PositiveFloat
    clear_share: Annotated[float, Field(gt=0, lt=0.1)]
    inch_mm: PositiveFloat
    person_mm: PositiveFloat
    ruler_covered: Annotated[float, Field(gt=0, lt=1)]
