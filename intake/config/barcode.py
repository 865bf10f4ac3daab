"""Where barcodes are looked for, and since when there are any."""

from pydantic import Field

from intake.config.section import Section
from intake.model import Kind


class BarcodeRules(Section):
    """``margin_share`` is of the part's short side; ``margin_long_px`` how long a margin is when looked at closer."""

    kinds: tuple[Kind, ...]
    margin_share: float = Field(gt=0, le=0.5)
    margin_long_px: int = Field(ge=500, le=10_000)
    most: int = Field(ge=1, le=100)
    first_year: dict[str, int]
