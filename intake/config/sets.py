"""What sets.toml says."""

from pydantic import Field

from intake.config.section import Section
from intake.model import Kind


class SetRules(Section):
    """What is several without being doubled. Shares are of a picture's sides, or of its area where they are shared."""

    kinds: frozenset[Kind]
    longest_mm: float = Field(gt=0)
    size_share: float = Field(gt=0, lt=0.2)
    place_share: float = Field(gt=0, lt=0.5)
    least_letters: int = Field(ge=1)
    most_lines: int = Field(ge=2, le=40)
    other_number: float = Field(le=0)
    strip: float = Field(ge=0)
    least_probability: float = Field(ge=0.5, le=1)
    most_shared: float = Field(gt=0, lt=1)
    least_shared: float = Field(ge=0, lt=1)
    edge_share: float = Field(gt=0, lt=0.5)
    same_scale: float = Field(gt=0, lt=1)
