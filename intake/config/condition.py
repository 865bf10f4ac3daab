"""Which sorts of wear are suggested, how each is told, and how well that was measured to work."""

from typing import Annotated

from pydantic import Field, NonNegativeFloat, PositiveFloat, PositiveInt, model_validator

from intake.config.section import Section
from intake.model import ConditionSort, Kind

Share = Annotated[float, Field(ge=0, le=1)]
MOST_FALSE = 0.5  # a sheet, of all sorts that are on together: the bound


class Sort(Section):
    """One sort: what it is called, whether it is suggested, and the rates measured (see tests/bench/condition.py)."""

    called: str
    on: bool
    sure: Share
    found: Share
    false_a_sheet: NonNegativeFloat


class Rim(Section):
    """Gaps on the rim: lengths in mm, ``tear_share`` of a tear's depth, ``tell`` a share of the rim; ``light`` is
    how many levels a torn rim is lighter than what shows in the gap."""

    least_mm: PositiveFloat
    tell: Share
    corner_mm: PositiveFloat
    tear_mm: PositiveFloat
    tear_wide_mm: PositiveFloat
    tear_share: Share
    chip_mm: PositiveFloat
    light: PositiveFloat
    wear_mm2: PositiveFloat
    wear_apart_mm: PositiveFloat
    wear_chips: PositiveInt


class Hole(Section):
    """Holes where folds cross; ``light`` is how many levels the torn rim is lighter than what shows in the hole."""

    reach_mm: PositiveFloat
    least_mm2: PositiveFloat
    light: float


class Tint(Section):
    """Patches of another tint on the margin: least log tint and area; how finely the margin is looked at."""

    per_mm: PositiveFloat
    least: PositiveFloat
    least_mm2: PositiveFloat


class Tape(Section):
    """What makes a patch tape: it fills a rectangle, its border is no darker than its middle, and its edges are sharp
    or its tint is ``strong``."""

    fill: Share
    rim: PositiveFloat
    sharp: PositiveFloat
    strong: PositiveFloat


class Stain(Section):
    """What makes a patch a stain: its border is sharp and darker than its middle."""

    rim: PositiveFloat
    sharp: PositiveFloat
    fill: Share


class Pin(Section):
    """What makes a spot a pinhole."""

    from_corner_mm: PositiveFloat
    across_mm: tuple[PositiveFloat, PositiveFloat]
    dark: Share
    alone_mm: PositiveFloat
    least_per_mm: PositiveFloat


class ConditionRules(Section):
    """config/condition.toml. The keys are explained there."""

    kinds: frozenset[Kind]
    unknown_long_mm: PositiveFloat
    most_places: PositiveInt
    margin_most_mm: PositiveFloat
    margin_least: Share
    not_looked_words: str
    rim: Rim
    hole: Hole
    tint: Tint
    tape: Tape
    stain: Stain
    pinhole: Pin
    sorts: dict[ConditionSort, Sort]

    @model_validator(mode="after")
    def _seldom_false(self) -> "ConditionRules":
        false = sum(row.false_a_sheet for row in self.sorts.values() if row.on)
        if false > MOST_FALSE:
            raise ValueError(
                f"the sorts that are on give {false:.2f} false places a sheet; at most {MOST_FALSE} may be"
            )
        return self
