"""How strips pasted on a single sheet are told."""

from typing import Annotated

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section
from intake.model import Kind

Share = Annotated[float, Field(ge=0, le=1)]


class SnipeRules(Section):
    """config/snipe.toml. The keys are explained there."""

    kinds: frozenset[Kind]
    look_px: PositiveInt
    even_levels: PositiveFloat
    most_turn_deg: PositiveFloat
    least_long: Share
    least_short: Share
    most_short: Share
    least_aspect: PositiveFloat
    start: float
    weights: dict[str, float]
    shown: Share
    alone: Share
