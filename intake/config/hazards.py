"""What people may note of hazards, on what a film's base may be ruled, and whom to ask."""

from pydantic import Field, field_validator

from intake.config.section import Section

POSSIBLE_NITRATE = "possible_nitrate"


class Noted(Section):
    """A hazard that a person may note: what it is called, and the caution that stands for it from then on."""

    words: str = Field(min_length=4, max_length=60)
    caution: str = Field(min_length=20, max_length=400)


class HazardRules(Section):
    """config/hazards.toml. The reasons stand there."""

    why: str
    ask: str
    bases: dict[str, str]
    noted: dict[str, Noted]

    @field_validator("noted")
    @classmethod
    def _film_can_be_noted(cls, value: dict[str, Noted]) -> dict[str, Noted]:
        if POSSIBLE_NITRATE not in value:
            raise ValueError(f"a row {POSSIBLE_NITRATE} is needed: film that the tool did not see")
        return value
