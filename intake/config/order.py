"""What speaks for one piece of a design having been made before another."""

from typing import Literal

from pydantic import PositiveFloat, PositiveInt

from intake.config.section import Section

Reason = Literal["covered", "pasted", "rescreened", "from_print", "of_its_print", "brushwork", "cropped", "dates"]


class Says(Section):
    """One reason: its weight (log-odds) and its words."""

    weight: PositiveFloat
    words: str


class OrderRules(Section):
    """config/order.toml. The keys are explained there."""

    least: PositiveFloat
    same_ruling: PositiveFloat
    print_screens: PositiveInt
    angle_apart: PositiveFloat
    says: dict[Reason, Says]
