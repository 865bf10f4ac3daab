"""What match.toml says."""

from intake.config.section import Section
from intake.model import Kind


class CandidateRules(Section):
    """How the index searches (see intake/imaging/candidates.py)."""

    top: int
    expanded: int
    sure: int
    rise: float
    words: int
    signs: int
    postings: int
    field_px: float


class AskedRules(Section):
    """A second, closer look at a picture that is asked for (services/find.py)."""

    frame_px: int
    keypoints: int


class PairingRules(Section):
    """How near is near when keypoints are paired (see intake/imaging/pairing.py). Lengths in frame pixels."""

    ratio: float
    likeness: float
    guided_likeness: float
    loose_px: float
    tight_px: float
    least_votes: int
    hypotheses: int
    most_stretch: float
    most_scale: float
    elements: int
    element_places: int


class Weights(Section):
    """Log-odds: ``prior`` plus each measure times its weight (natural logarithm)."""

    prior: float
    places: float
    likeness: float
    rival: float
    moved: float
    agreeing_area: float
    unlike_area: float
    chance: float


class SamePieceRules(Section):
    """When two scans of the same kind of picture may be of one physical piece."""

    close_correlation: float
    close_share: float
    coverage: float
    weight: float


class MatchRules(Section):
    """How candidates are sought, verified and judged."""

    candidates: CandidateRules
    asked: AskedRules
    pairing: PairingRules
    agreeing_correlation: float
    least_places: int
    least_probability: float
    most_weight: float
    element_kinds: tuple[Kind, ...]
    same_design: Weights
    shared_element: Weights
    same_piece: SamePieceRules
