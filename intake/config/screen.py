"""How printing screens are told from other structure."""

from pydantic import Field

from intake.config.section import Section
from intake.model import Kind


class ScreenRules(Section):
    """Rulings in lines an inch; strengths are heights over the spectrum's own fall-off."""

    kinds: tuple[Kind, ...]
    tile_px: int = Field(ge=128, le=1024)
    finest_look_ppi: float = Field(gt=0)
    least_strength: float = Field(gt=1)
    axis_deg: float = Field(ge=0, lt=15)
    least_on_axis: float = Field(gt=1)
    beside: float = Field(gt=0, lt=1)
    same_ruling: float = Field(gt=0, lt=0.2)
    own_ink: float = Field(gt=1)
    over_alone: float = Field(gt=0, lt=1)
    over: float = Field(gt=0, lt=1)
    one_ruling: float = Field(gt=0, lt=0.1)
    angle_step: float = Field(gt=0, lt=90)
    finest_lpi: float = Field(gt=0)
    pixels_a_line: float = Field(gt=2)
    bar_kinds: tuple[Kind, ...]
    bar_patch_mm: tuple[float, float]
    bar_off_px: float = Field(gt=0, lt=2)
    bar_off_mm: float = Field(gt=0)
    bar_worst_px: float = Field(gt=0)
