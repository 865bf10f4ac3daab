"""What speaks against the date that a piece claims."""

from typing import Literal

from pydantic import NonNegativeInt

from intake.config.section import Section

Strength = Literal["plain", "possible"]


class ClashRule(Section):
    """One sign: how strong it is, its words, the innocent explanation beside it, and where the rule comes from."""

    strength: Strength
    words: str
    innocent: str
    source: str
    from_year: int | None = None
    doubt_years: NonNegativeInt = 0


class ClashRules(Section):
    """config/clash.toml. The keys are explained there."""

    grace_years: NonNegativeInt
    rules: dict[
        Literal[
            "certificate", "certificate_over", "certificate_between", "certificate_doubtful", "union_name", "web",
            "format", "rescreened", "off_size", "printed_folds",
        ],
        ClashRule,
    ]  # fmt: skip
