"""How marks are told from other text, and when one is accepted without a person."""

from pydantic import Field

from intake.config.section import Section


class ParseRules(Section):
    """Shares are of the part's short side."""

    margin_share: float = Field(gt=0, le=0.5)
    longest_text: int = Field(ge=40, le=400)
    most_words: int = Field(ge=4, le=60)
    most_marks: int = Field(ge=1)
    least_share: float = Field(ge=0, le=1)
    sure_letter: float = Field(gt=0, le=1)
    rival_confidence: float = Field(gt=0, le=1)
    digits_for: dict[str, str]
    repaired_kinds: tuple[str, ...]
    countries: dict[str, str]
    legal_forms: tuple[str, ...]
