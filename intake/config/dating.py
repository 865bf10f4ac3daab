"""How far each class of mark dates the sheet that bears it."""

from pydantic import Field

from intake.config.section import Section


class Counts(Section):
    """One class of mark. ``firm``: the sheet is certainly no older than the mark's year.

    ``usual_years``: so many years after a year that stands in the mark such sheets were still printed as a rule; None
    where the mark says nothing of an end. ``words`` say why.
    """

    firm: bool
    usual_years: int | None = Field(default=None, ge=0, le=20)
    words: str


class DatingRules(Section):
    """What a mark dates (``dates`` of its pattern) -> how it counts. A mark of another class dates no sheet."""

    counts: dict[str, Counts]
