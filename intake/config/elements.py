"""What config/elements.toml says."""

from typing import Annotated

from pydantic import Field, PositiveInt

from intake.config.section import Section
from intake.model import Kind

Share = Annotated[float, Field(ge=0, le=1)]


class ElementRules(Section):
    """When an element is found on a picture. The keys are explained in the file."""

    frame_px: PositiveInt
    keypoints: PositiveInt
    least_keypoints: PositiveInt
    found_places: PositiveInt
    found_edges: Share
    found_covered: Share
    many_places: PositiveInt
    many_edges: Share
    unsure_places: PositiveInt
    unsure_edges: Share
    most_pictures: PositiveInt
    most: PositiveInt
    kinds: tuple[Kind, ...]
