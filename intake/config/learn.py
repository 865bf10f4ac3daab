"""What config/learn.toml says."""

from pydantic import PositiveInt

from intake.config.section import Section


class LearnRules(Section):
    """How rulings are learnt from. The keys are explained in the file."""

    least_pairs: PositiveInt
    folds: PositiveInt
    bins: PositiveInt
