"""The rules by which a part's kind and polarity are told."""

from typing import Self

from pydantic import Field, PositiveFloat, model_validator

from intake.config.section import Section
from intake.model import Kind


class Rule(Section):
    """One physical sign. It fires when every trait named in ``when`` is known and within its bounds (low, high;
    inclusive).

    ``weights`` are natural log-odds for kinds; ``negative`` is log-odds that the picture is a negative (below 0:
    positive).
    ``words`` may name traits in braces, as in ``{long_mm:.0f}``.
    """

    name: str
    words: str
    when: dict[str, tuple[float, float]]
    weights: dict[Kind, float] = Field(default_factory=dict)
    negative: float = 0.0

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.when or not (self.weights or self.negative):
            raise ValueError(f"rule {self.name} has no condition or no weight")
        return self


class ClassifyRules(Section):
    """config/classify.toml. The keys are explained there."""

    look_px: int = Field(gt=100)
    least_confidence: float = Field(gt=0, lt=1)
    least_polarity: float = Field(gt=0.5, lt=1)
    film_sizes_mm: tuple[tuple[float, float], ...]
    plate_sizes_mm: tuple[tuple[float, float], ...]
    size_share: PositiveFloat
    bed_share: float = Field(gt=0, lt=1)
    bed_levels: PositiveFloat
    start: dict[Kind, float]
    rules: tuple[Rule, ...]
    start_negative: float
    hazard_margin: PositiveFloat
    hazard_words: str
    glass_words: str

    @model_validator(mode="after")
    def _names_are_single(self) -> Self:
        names = [rule.name for rule in self.rules]
        twice = sorted({n for n in names if names.count(n) > 1})
        if twice:
            raise ValueError(f"rules that stand twice: {', '.join(twice)}")
        return self
