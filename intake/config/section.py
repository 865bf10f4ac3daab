"""What every section of config/ has in common."""

from pydantic import BaseModel, ConfigDict


class Section(BaseModel):
    """One file of config/: refused whole when a key is unknown, missing or of the wrong type; frozen once read."""

    model_config = ConfigDict(frozen=True, extra="forbid")
