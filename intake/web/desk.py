"""What every page of the desk leans on."""

from dataclasses import dataclass

from jinja2 import Environment

from intake.config.load import Config
from intake.services.home import Home
from intake.services.looks import Looks
from intake.services.offered import Searches
from intake.services.pictures import Crops
from intake.services.tiles import Tiles


@dataclass(frozen=True, slots=True)
class Desk:
    """The home, the settings, the templates, the crops cut so far, the pictures that are looked at or were offered."""

    home: Home
    config: Config
    templates: Environment
    crops: Crops
    looks: Looks
    tiles: Tiles
    searches: Searches
