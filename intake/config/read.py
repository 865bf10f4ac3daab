"""How a part is read: sizes, limits, and what is worth a second reader."""

from pydantic import Field

from intake.config.section import Section


class ReadRules(Section):
    """Lengths in pixels of the picture named, shares of the part's short side."""

    long_edge_px: int = Field(ge=256, le=2048)
    slight_long_edge_px: int = Field(ge=256, le=2048)
    slight_kinds: tuple[str, ...]
    unread_kinds: tuple[str, ...]
    strip_depth_share: float = Field(gt=0, le=0.3)
    strip_depth_by_kind: dict[str, float]
    strip_px_per_mm: float = Field(gt=0)
    strip_long_px: int = Field(ge=512)
    film_strip_long_px: int = Field(ge=512)
    strip_enlarge_most: float = Field(ge=1)
    strip_megapixels: float = Field(gt=0, le=6)
    strips_megapixels: float = Field(gt=0, le=6)
    least_detector_score: float = Field(ge=0, le=1)
    least_confidence: float = Field(ge=0, le=1)
    lettering_confidence: float = Field(ge=0, le=1)
    most_lines: int = Field(ge=1)
    most_second_looks: int = Field(ge=0)
    most_second_readings: int = Field(ge=0)
    crop_height_px: int = Field(ge=48)
    wide_stretch: float = Field(ge=1)
    soften_share: float = Field(gt=0, le=0.2)
    sure_letter: float = Field(gt=0, le=1)
    reader_limit_s: float = Field(gt=0)
    film_edge_share: float = Field(gt=0, le=0.5)
    unmirrored_kinds: tuple[str, ...]
    orientation_lines: int = Field(ge=1)
    orientation_ratio: float = Field(gt=1)
    orientation_least: float = Field(ge=0, le=1)
    orientation_length: float = Field(gt=1)
    marked_anywhere_kinds: tuple[str, ...]
    second_margin_share: float = Field(gt=0, le=0.5)
    second_height_share: float = Field(gt=0, le=0.5)
    second_words: tuple[str, ...]
    # A file of recorded readings that stands in for the engines: rules can be tried again without reading again.
    recording: str = ""
