"""When a loss of cyan is told, and when two copies are too unlike to tell."""

from typing import Annotated

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section
from intake.model import Kind

Share = Annotated[float, Field(gt=0, lt=1)]


class FadingRules(Section):
    """config/fading.toml. The keys are explained there."""

    kinds: frozenset[Kind]
    most_copies: PositiveInt
    least_places: PositiveInt
    least_alike: Share
    most_spread: PositiveFloat
    least_loss: Share
