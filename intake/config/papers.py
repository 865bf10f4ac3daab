"""What the house says on its papers, the template that they are set with, and the words of a draft entry."""

import re
from pathlib import Path
from typing import Literal

from pydantic import Field

from intake.config.section import Section
from intake.errors import ConfigError

TEMPLATE, ENTRY = "papers.typ", "entry.txt"
FIELDS = frozenset(
    ("piece", "kind", "title", "description", "size", "date", "date_edtf", "makers", "marks", "condition", "relations",
     "hazards", "location", "materials", "remarks", "format")
)  # fmt: skip
_FIELD = re.compile(r"\{([^{}]*)\}")


class Scale(Section):
    """A scale of condition: its name, and its grades from the best on."""

    name: str
    grades: tuple[str, ...]


class PaperRules(Section):
    """config/papers.toml."""

    house: str = Field(max_length=120)
    lines: tuple[str, ...]
    receipt: str
    private: str
    sampling: str
    hold: str
    condition: str
    dossier: str
    provenance: Literal["plain", "aam"]
    spot_check: int = Field(gt=0, le=200)
    scales: tuple[Scale, ...]


def load_template(folder: Path) -> str:
    """The template of all papers. Raises ConfigError when it cannot be read."""
    return _text(folder / TEMPLATE)


def load_entry(folder: Path) -> tuple[str, ...]:
    """The lines of a draft entry. Raises ConfigError when it cannot be read or names a field that there is not."""
    lines = tuple(x for x in _text(folder / ENTRY).splitlines() if x.strip() and not x.startswith("#"))
    if odd := {name for line in lines for name in _FIELD.findall(line)} - FIELDS:
        raise ConfigError(f"{folder / ENTRY}: no such fields: {', '.join(sorted(odd))}")
    return lines


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path}: {error}") from error
