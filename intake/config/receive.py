"""Rules for taking in a folder: which files are scans, and what their names say."""

import re
import unicodedata
from functools import cached_property

from pydantic import field_validator, model_validator

from intake.config.section import Section

_NUMBER = re.compile(r"(\d+)([a-z]?)", re.ASCII | re.IGNORECASE)


def piece_number(text: str) -> str:
    """A piece's name as files and box lists share it: in NFC; a number has four digits or more, its letter is small."""
    found = _NUMBER.fullmatch(text)
    return f"{found[1].lstrip('0'):0>4}{found[2].lower()}" if found else unicodedata.normalize("NFC", text)


class NameExample(Section):
    """A file name and what must be read from it; a pattern that misses its example does not load."""

    name: str
    piece: str
    side: str


class NamePattern(Section):
    """One way in which scanning houses name files. Named groups: ``piece`` and, where there is one, ``side``."""

    regex: str
    examples: tuple[NameExample, ...]
    not_examples: tuple[str, ...] = ()

    @field_validator("regex")
    @classmethod
    def _compiles_and_names_a_piece(cls, value: str) -> str:
        try:
            names = re.compile(value).groupindex
        except re.error as error:
            raise ValueError(f"{value!r} is no pattern: {error}") from error
        if "piece" not in names:
            raise ValueError(f"{value!r} has no group named 'piece'")
        return value

    @cached_property
    def compiled(self) -> re.Pattern[str]:
        """The pattern, ignoring case."""
        return re.compile(self.regex, re.IGNORECASE)


class ReceiveRules(Section):
    """What counts as a scan, where loose files go, and how names are read."""

    endings: frozenset[str]
    ignored_names: frozenset[str]
    loose_box: str
    reference_box: str
    sides: dict[str, str]
    longest_name: int
    patterns: tuple[NamePattern, ...]

    @model_validator(mode="after")
    def _patterns_keep_their_examples(self) -> "ReceiveRules":
        wrong = [
            f"{example.name!r} reads as {read}, not as {(example.piece, example.side)}"
            for pattern in self.patterns
            for example in pattern.examples
            if (read := self.name_parts(example.name)) != (example.piece, example.side)
        ]
        wrong += [
            f"{name!r} is a counter-example of {pattern.regex!r} but matches it"
            for pattern in self.patterns
            for name in pattern.not_examples
            if pattern.compiled.fullmatch(name)
        ]
        if wrong:
            raise ValueError("; ".join(wrong))
        return self

    def name_parts(self, stem: str) -> tuple[str, str] | None:
        """Piece number and side that a file name (without its ending) gives, or None when no pattern fits."""
        groups = self._groups(stem)
        if groups is None:
            return None
        word = (groups.get("side") or "").lower()
        side = "detail" if word.startswith("detail") else self.sides.get(word, "recto" if not word else "unknown")
        return piece_number(groups["piece"] or ""), side

    def sequence(self, stem: str) -> str:
        """Which of several pictures of one side this is, as the name says (``p02``); empty when it says nothing."""
        return ((self._groups(stem) or {}).get("sequence") or "").lower()

    def _groups(self, stem: str) -> dict[str, str | None] | None:
        if len(stem) > self.longest_name:
            return None
        matches = (pattern.compiled.fullmatch(stem) for pattern in self.patterns)
        return next((found.groupdict() for found in matches if found), None)
