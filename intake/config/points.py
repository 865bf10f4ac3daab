"""What config/points.toml says."""

from typing import Annotated

from pydantic import Field, PositiveInt

from intake.config.section import Section

Share = Annotated[float, Field(gt=0, le=1)]


class PointWords(Section):
    """What a suggestion says, and the caution beside all of them."""

    original: str
    copy_: str = Field(alias="copy")
    unsure: str
    caution: str


class PointRules(Section):
    """How places are cut out, compared and told. The keys are explained in the file."""

    frame_px: PositiveInt
    least_px: PositiveInt
    margin: Share
    reach: Share
    side_shares: tuple[Share, ...]
    most: PositiveInt
    differ: Share
    told: Share
    near: Share
    says: PointWords
