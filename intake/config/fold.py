"""How folds are told, and what is held against the lines found."""

from typing import Annotated

from pydantic import Field, PositiveFloat

from intake.config.section import Section
from intake.model import Kind

Weights = dict[str, float]


class Lines(Section):
    """Log-odds that a straight line is a fold's: ``start`` and so much for each measure (see imaging/creases.py);
    ``chance`` is taken off, what an arbitrary line of those looked at comes to, and no line says more than ``most``."""

    start: float
    weights: Weights
    chance: float
    most: PositiveFloat


class Ink(Section):
    """Log-odds that ink is broken, not printed as if: ``start`` and so much for each measure (imaging/broken.py)."""

    start: float
    bare: float
    width_mm: float
    fine: float
    most: PositiveFloat
    broken: float
    printed: float
    least_length: Annotated[float, Field(ge=0, lt=1)]
    most_open: Annotated[float, Field(gt=0, le=1)]
    beside_bare: Annotated[float, Field(gt=0, le=1)]


class FoldRules(Section):
    """config/fold.toml. The keys are explained there."""

    kinds: frozenset[Kind]
    unknown_long_mm: PositiveFloat
    panels: tuple[Annotated[int, Field(ge=2, le=8)], ...]
    place_mm: PositiveFloat
    place_share: Annotated[float, Field(gt=0, lt=0.1)]
    missing: float
    folded: float
    inside_least: float
    white_least: float
    faint: float
    paper_percent: Annotated[float, Field(gt=50, lt=100)]
    through: Lines
    inside: Lines
    ink: Ink
    skew_most_deg: Annotated[float, Field(gt=0, lt=45)]
    hidden_words: str
    printed_words: str
