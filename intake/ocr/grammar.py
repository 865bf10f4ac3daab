"""Meet one reading of a line with the patterns: which print codes stand in it, and what they say."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from intake.config.parse import ParseRules
from intake.config.patterns import Pattern
from intake.ocr.phrases import fold, with_phrase
from intake.ocr.roman import roman_value

_AMPERSAND = re.compile(r"\s*&\s*")
_FIRST_YEAR, _LAST_YEAR = 1890, 2100
_COMMA = re.compile(r",(?=\S)")
_JOINED = re.compile(r"(?<=\d)(?=[^\W\d_]{3})|(?<=[^\W\d_]{3})(?=\d)")
_FIRST_OF_1900S = 20
_INITIALS = re.compile(r"\b\w\. ?\w\.$")


@dataclass(frozen=True, slots=True)
class Hit:
    """A print code in one reading. ``repaired`` when letters had to be taken for digits; ``town`` is a printer's.

    ``strokes``: the letters of its year in Roman capitals, 0 for a year in digits.
    """

    pattern: Pattern
    value: str
    year: int | None
    repaired: bool
    strokes: int = 0
    town: str = ""


def hits_in(text: str, patterns: Sequence[Pattern], rules: ParseRules) -> list[Hit]:
    """Return at most one hit a pattern: the longest stretch of the line that meets it."""
    text = " ".join(_COMMA.sub(", ", text[: rules.longest_text]).split())
    found = []
    for pattern in patterns:
        hit = _hit(text, pattern, rules, repaired=False)
        if hit is None and pattern.mark in rules.repaired_kinds:
            digits = _as_digits(text, rules.digits_for)
            hit = _hit(digits, pattern, rules, repaired=True) if digits != text else None
        if hit is not None:
            found.append(hit)
    return found


def _hit(text: str, pattern: Pattern, rules: ParseRules, repaired: bool) -> Hit | None:
    for written in _written(text, pattern):
        for part in _stretches(written, rules.most_words) if pattern.within else [written]:
            met = pattern.compiled.search(part)
            if met is None:
                continue
            made = _made(pattern, met.groupdict(default=""), repaired)
            if made is not None:
                return made
    return None


def _written(text: str, pattern: Pattern) -> Iterator[str]:
    """The text with a fixed phrase of the pattern mended where a letter slipped, then with all set off, then as read.

    The last comes last: where a phrase is optional, a slip or a lost space in it would make it a part of what follows.
    """
    spaced = text
    for phrase in pattern.phrases:
        spaced = with_phrase(spaced, phrase, slips=False) or spaced
    mended = [m for phrase in pattern.phrases if (m := with_phrase(spaced, phrase)) is not None]
    yield from dict.fromkeys([*(w for m in mended for w in (m, _JOINED.sub(" ", m))), spaced, text])


def _stretches(text: str, most_words: int) -> Iterator[str]:
    words = text.split(" ")[:most_words]
    for length in range(len(words), 0, -1):
        for start in range(len(words) - length + 1):
            yield " ".join(words[start : start + length])


def _as_digits(text: str, digits_for: Mapping[str, str]) -> str:
    """Take letters for digits in words that are mostly digits already."""
    return " ".join(
        "".join(digits_for.get(c, c) for c in word) if sum(c.isdigit() for c in word) * 2 >= len(word) else word
        for word in text.split(" ")
    )


def _made(pattern: Pattern, groups: dict[str, str], repaired: bool) -> Hit | None:
    groups = {name: value.strip() for name, value in groups.items()}
    year = None
    if pattern.year and groups[pattern.year]:
        year = year_of(groups[pattern.year])
        if year is None:
            return None
    value = _fill(pattern.value, groups)
    if pattern.mark == "copyright":
        value = str(year)
    elif pattern.mark == "printer":
        value = " ".join(_AMPERSAND.sub(" & ", value.upper()).split()).strip(" .,-")
    elif pattern.mark == "origin":
        words = value.upper().replace(".", "").split()
        value = ("" if all(len(w) == 1 for w in words) else " ").join(words)
    elif pattern.mark == "visa":
        value = value.replace(" ", "")
    elif pattern.mark in ("certificate", "film_base", "style", "market_word", "union", "union_name"):
        value = value if pattern.country == "DE" else value.upper()
    strokes = len(groups[pattern.year]) if year is not None and groups[pattern.year].isalpha() else 0
    town = _town(groups.get("place", "")) if pattern.mark == "printer" else ""
    return Hit(pattern, value, year, repaired, strokes, town) if value else None


def _town(place: str) -> str:
    bare = " ".join(place.upper().split()).strip(" ,-")
    return bare if _INITIALS.search(bare) else bare.rstrip(".")


def _fill(template: str, groups: Mapping[str, str]) -> str:
    """Fill the first of the alternatives (a|b) that has all its groups, else the last."""
    ways = template.split("|")
    way = next((w for w in ways if all(groups[name] for name in re.findall(r"\{(\w+)\}", w))), ways[-1])
    return " ".join(way.format_map(groups).split())


def year_of(text: str) -> int | None:
    """Return the year that digits (two: 1920 to 2019) or a strict Roman numeral in capitals say, or None."""
    if text.isascii() and text.isdecimal() and len(text) in (2, 4):
        year = int(text)
        year += 0 if len(text) == 4 else 2000 if year < _FIRST_OF_1900S else 1900
    else:
        year = roman_value(text) or 0
    return year if _FIRST_YEAR <= year <= _LAST_YEAR else None


def same_printer(name: str, legal_forms: Sequence[str]) -> str:
    """Return what two spellings of one printer have in common: capitals and digits without its legal form."""
    words = re.findall(r"[^\W_]+", fold(name).replace("&", " AND "))
    kept = [w for w in words if w not in legal_forms]
    return " ".join(kept or words)
