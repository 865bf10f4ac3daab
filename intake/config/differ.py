"""How two pictures of one design are compared, and what a place that differs is called."""

from typing import Annotated

from pydantic import Field, PositiveFloat, PositiveInt

from intake.config.section import Section

Share = Annotated[float, Field(ge=0, le=1)]


class Certainty(Section):
    """Log-odds that a region is a true difference: ``start`` and so much for each measure, natural logarithms."""

    start: float
    weights: dict[str, float]
    shown: Share


class Search(Section):
    """How elements are looked for that few keypoints tell (imaging/voted.py)."""

    sizes: tuple[PositiveFloat, PositiveFloat]
    size_steps: PositiveInt
    window_px: PositiveInt
    reach: Share
    alike: Share
    more_alike: Share
    least_windows: PositiveInt
    most_windows: PositiveInt
    most_peaks: PositiveInt
    gain: Share
    explained: Share
    agreed: Share
    one_way: Share


class DifferRules(Section):
    """config/differ.toml. The keys are explained there."""

    frame_px: PositiveInt
    window_px: PositiveInt
    noise: PositiveFloat
    least_shared: Share
    quiet_quantile: Share
    flagged: PositiveFloat
    peak: PositiveFloat
    least_cells: PositiveInt
    joined_cells: PositiveInt
    most_usual: Share
    rim_px: PositiveInt
    most_rim: PositiveFloat
    reach: Share
    miss_px: PositiveFloat
    least_points: PositiveInt
    least_explained: Share
    least_factor: PositiveFloat
    least_move: Share
    least_bend_px: PositiveFloat
    even_levels: PositiveFloat
    even: Share
    strip_fill: Share
    patch_held: Share
    slack_px: PositiveFloat
    soften_from: Share
    soften_px: PositiveFloat
    strip_long: PositiveFloat
    strip_seen: Share
    strip_told: PositiveFloat
    same_text: Share
    least_worded: PositiveFloat
    cropped: Share
    search: Search
    certainty: Certainty
    words: dict[str, str]
