"""The product's own settings, as the benches use them."""

import tomllib
from pathlib import Path

from intake.config.group import GroupRules

CONFIG = Path(__file__).parents[2] / "config"


def group_rules() -> GroupRules:
    return GroupRules.model_validate(tomllib.loads((CONFIG / "group.toml").read_text("utf-8")))
