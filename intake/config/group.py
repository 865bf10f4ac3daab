"""What group.toml says."""

from intake.config.section import Section


class GroupRules(Section):
    """How matches become families. Weights are log-odds (natural logarithm) that two parts are of one design."""

    unverified: float
    shared_element: float
    same_piece: float
    most_weight: float
    least_total: float
