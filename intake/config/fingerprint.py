"""What fingerprint.toml says."""

from intake.config.section import Section
from intake.model import Kind


class FingerprintRules(Section):
    """How keypoints are taken. Lengths in frame pixels, ``*_share`` of the picture's width or height."""

    frame_px: int
    small_px: int
    least_px: int
    keypoints: int
    grid_px: int
    few_keypoints: int
    contrast_threshold: float
    edge_threshold: float
    flat_share: float
    border_reach_share: float
    border_gap_share: float
    outline_inset_px: float
    kept_whole: tuple[Kind, ...]
