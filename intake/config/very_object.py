"""When the brushwork of a painting and film of it says that this very painting was photographed, or was not."""

from typing import Annotated, Literal

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section

Share = Annotated[float, Field(ge=0, le=1)]
Says = Literal["supported", "drawn", "other_hand", "partly", "unclear", "differs", "screened", "coarse", "untold"]


class VeryObjectRules(Section):
    """config/very_object.toml. The keys are explained there."""

    longest_px: PositiveInt
    fine_px: PositiveFloat
    coarse_px: PositiveFloat
    window_px: PositiveInt
    step_px: PositiveInt
    rim_px: PositiveInt
    slack_px: tuple[PositiveFloat, ...]
    slack_over_px: PositiveFloat
    tones: PositiveInt
    quiet: Share
    told_unlike: PositiveFloat
    least_noise: PositiveFloat
    holds: Share
    clip: PositiveFloat
    faint: tuple[Share, Share]
    plain: Share
    aside_px: PositiveInt
    strange: Share
    drawn_over_noise: PositiveFloat
    patch_px: PositiveInt
    same_hand: Share
    other_hand: Share
    resolved: Share
    by_chance: Share
    untold_on_film: PositiveFloat
    untold_on_art: PositiveFloat
    most_strange: Share
    drawn_otherwise: Share
    least_lpi: PositiveFloat
    places: PositiveInt
    words: dict[Says, str]
