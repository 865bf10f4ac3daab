"""What config/signature.toml says."""

from typing import Annotated

from pydantic import Field, PositiveInt

from intake.config.section import Section
from intake.kin import DifferenceKind
from intake.model import Kind

Share = Annotated[float, Field(ge=0, le=1)]


class SignatureRules(Section):
    """When a place is proposed as looking hand-signed. The keys are explained in the file."""

    kinds: tuple[Kind, ...]
    shown: Share
    most: PositiveInt
    differing_kinds: tuple[DifferenceKind, ...]
    differing_most: Share
    words: str
    present: Share
    even: Share
    before: float
    weights: dict[str, float]
