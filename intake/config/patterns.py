"""The print codes that we know: rows of config/patterns.toml, each proven by its own examples when it loads."""

import re
import tomllib
import unicodedata
from functools import cached_property
from pathlib import Path
from typing import Literal

from pydantic import ValidationError, field_validator

from intake.config.section import Section
from intake.errors import ConfigError

MarkKind = Literal[
    "printer",
    "certificate",
    "release_code",
    "visa",
    "deposit",
    "copyright",
    "style",
    "origin",
    "film_base",
    "job",
    "web",
    "market_word",
    "union",
    "union_name",
    "film_frame",
]
Where = Literal["anywhere", "margin", "film", "rebate"]
Needs = Literal["", "frame"]


class Pattern(Section):
    """One print code.

    ``regex`` is met by text with single spaces, whatever its case. ``value`` is a template of its groups
    (``{yy}/{ser}``; of several, set apart by ``|``, the first that has all its groups), ``year`` the group that
    holds a year. ``phrases`` are its fixed words, which are found despite a slip or a lost space. ``within`` allows
    it as a part of a longer line; ``where`` bounds its place ("film" = on film alone, "rebate" = in its margins and
    with no frame drawn round it). ``needs`` "frame" asks a
    bare label to have a drawn frame or ``frame_words`` with it. A mark gives way where the same line bears one of
    ``unless``; with ``only_agreed`` it is no mark at all unless two engines agree. ``dates`` says what the mark's
    years date. ``year_from`` and ``year_to`` bound when such marks were in use at all; ``doubtful`` tells that those
    are from memory or one weak source.
    """

    name: str
    mark: MarkKind
    regex: str
    value: str
    valid: tuple[str, ...]
    invalid: tuple[str, ...]
    country: str = ""
    dates: str = ""
    year: str = ""
    year_from: int | None = None
    year_to: int | None = None
    doubtful: bool = False
    where: Where = "anywhere"
    needs: Needs = ""
    frame_words: tuple[str, ...] = ()
    phrases: tuple[str, ...] = ()
    within: bool = False
    unless: tuple[MarkKind, ...] = ()
    only_agreed: bool = False
    note: str
    source: str

    @field_validator("regex")
    @classmethod
    def _compiles(cls, value: str) -> str:
        try:
            re.compile(value)
        except re.error as error:
            raise ValueError(f"the pattern is broken: {error}") from error
        return value

    @field_validator("valid", "invalid")
    @classmethod
    def _some(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        if not value:
            raise ValueError("a row brings examples and counter-examples of its own")
        return value

    @cached_property
    def compiled(self) -> re.Pattern[str]:
        """The compiled pattern."""
        return re.compile(self.regex, re.IGNORECASE)


def load_patterns(folder: Path) -> tuple[Pattern, ...]:
    """Read ``folder``/patterns.toml. Raises ConfigError with every bad row and every example that a row misses."""
    path = folder / "patterns.toml"
    try:
        rows = tomllib.loads(path.read_text(encoding="utf-8")).get("patterns", [])
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ConfigError(f"{path}: {error}") from error
    made: list[Pattern] = []
    problems: list[str] = []
    for number, row in enumerate(rows, start=1):
        name = row.get("name", f"row {number}") if isinstance(row, dict) else f"row {number}"
        try:
            pattern = Pattern.model_validate(row)
        except ValidationError as error:
            problems += [f"{path}: {name}: {'.'.join(map(str, e['loc']))}: {e['msg']}" for e in error.errors()]
            continue
        problems += [f"{path}: {name}: {p}" for p in _missed(pattern)]
        if any(pattern.name == other.name for other in made):
            problems.append(f"{path}: {name}: the name is taken")
        made.append(pattern)
    if not made and not problems:
        problems.append(f"{path}: no rows")
    if problems:
        raise ConfigError("\n".join(problems))
    return tuple(made)


def _missed(pattern: Pattern) -> list[str]:
    found = [f"misses its own example {v!r}" for v in pattern.valid if not pattern.compiled.search(normalise(v))]
    found += [f"accepts {v!r}, which it must refuse" for v in pattern.invalid if pattern.compiled.search(normalise(v))]
    groups = set(pattern.compiled.groupindex)
    asked = set(re.findall(r"\{(\w+)\}", pattern.value)) | ({pattern.year} if pattern.year else set())
    if asked - groups:
        found.append(f"names groups that its pattern has not: {sorted(asked - groups)}")
    return found


def normalise(text: str) -> str:
    """Return ``text`` as patterns meet it: NFC, spaces collapsed (they do not mind upper and lower case)."""
    return " ".join(unicodedata.normalize("NFC", text).split())
