"""What every page of the desk leans on."""

from dataclasses import dataclass

from jinja2 import Environment

from intake.config.load import Config
from intake.services.home import Home
from intake.services.pictures import Crops


@dataclass(frozen=True, slots=True)
class Desk:
    """The home, the settings, the templates, and the crops cut so far."""

    home: Home
    config: Config
    templates: Environment
    crops: Crops
