"""What match.toml says."""

from pydantic import model_validator

from intake.config.fingerprint import FingerprintRules
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


class Look(Section):
    """One fingerprint to ask with: the long edge, and keypoints at most."""

    frame_px: int
    keypoints: int


class AskedRules(Section):
    """How a picture is sought that is no scan (services/find.py): look after look, until one is ``sure``; then so many
    ``mates`` of what was found are compared too."""

    looks: tuple[Look, ...]
    sure: float
    mates: int


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


class Table(Section):
    """What a measure says, in log-odds (natural logarithm): straight lines between the values ``at``, level beyond."""

    at: tuple[float, ...]
    says: tuple[float, ...]

    @model_validator(mode="after")
    def _pairs_up(self) -> "Table":
        if not self.at or len(self.at) != len(self.says) or sorted(set(self.at)) != list(self.at):
            raise ValueError("``at`` must rise, and ``says`` have one number for each")
        return self


class Weights(Section):
    """Log-odds: ``prior`` plus what each measure says by its table (stages/match.py tells the measures)."""

    prior: float
    share: Table
    likeness: Table
    rival: Table
    moved: Table
    spread: Table
    edges: Table
    chance: Table
    seen: Table
    within: Table


class SecondRules(Section):
    """When a pair is looked at once more, with how many keypoints of how large a picture, and how both looks add up."""

    least: float
    sure: float
    frame_px: int
    keypoints: int
    grid_px: int
    prior: float
    first: float
    closer: float
    nothing: float

    def applied(self, rules: FingerprintRules) -> FingerprintRules:
        """How the features of the second look are taken."""
        so = {"frame_px": self.frame_px, "keypoints": self.keypoints, "grid_px": self.grid_px}
        return rules.model_copy(update=so)

    def is_asked(self, probability: float) -> bool:
        """Does the first look leave a pair undecided?"""
        return self.least <= probability < self.sure


class SamePieceRules(Section):
    """When two scans of the same kind of picture are of one physical piece (see stages/twice.py)."""

    coverage: float
    tiles: int
    grain: Table
    anew: float
    anew_frame: float
    anew_share: float


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
    second: SecondRules
    same_piece: SamePieceRules
