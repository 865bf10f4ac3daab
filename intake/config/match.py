"""What match.toml says."""

from intake.config.section import Section


class CandidateRules(Section):
    """How the index searches (see intake/imaging/candidates.py)."""

    top: int
    words: int
    signs: int
    postings: int
    field_px: float


class PairingRules(Section):
    """How near is near when keypoints are paired (see intake/imaging/pairing.py). Lengths in frame pixels."""

    ratio: float
    likeness: float
    loose_px: float
    tight_px: float
    least_votes: int
    hypotheses: int
    most_stretch: float
    most_scale: float


class Weights(Section):
    """Log-odds: ``prior`` plus each measure times its weight (natural logarithm)."""

    prior: float
    places: float
    agreement: float
    contrary: float
    agreeing_area: float
    unlike_area: float
    coverage: float
    closely: float
    drawn: float
    stretch: float


class SamePieceRules(Section):
    """When two scans of the same kind of picture may be of one physical piece."""

    close_correlation: float
    close_share: float
    coverage: float
    weight: float


class MatchRules(Section):
    """How candidates are sought, verified and judged."""

    candidates: CandidateRules
    pairing: PairingRules
    agreeing_correlation: float
    least_places: int
    least_probability: float
    most_weight: float
    same_design: Weights
    shared_element: Weights
    same_piece: SamePieceRules
