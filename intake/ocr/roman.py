"""Roman numerals as years, in the strict subtractive form alone."""

import re

_STRICT = re.compile(r"M{0,3}(?:CM|CD|D?C{0,3})(?:XC|XL|L?X{0,3})(?:IX|IV|V?I{0,3})")
_LIKE_A_YEAR = re.compile(r"(?<![^\W_])(?=[MCDLXVI]{3})M{1,3}[CDLXVI]+")
_WORTH = {"M": 1000, "D": 500, "C": 100, "L": 50, "X": 10, "V": 5, "I": 1}


def roman_value(text: str) -> int | None:
    """Return the number that ``text`` (upper case) spells, or None where it is no strict Roman numeral."""
    if not text or not _STRICT.fullmatch(text):
        return None
    worth = [_WORTH[c] for c in text]
    return sum(-a if a < b else a for a, b in zip(worth, [*worth[1:], 0], strict=True))


def has_roman_year(text: str) -> bool:
    """Tell whether a word of ``text`` looks like a year in Roman capitals, well formed or not.

    Readers drop one of several narrow strokes (MCMLXVIII), so that such a line is worth a further reading.
    """
    return _LIKE_A_YEAR.search(text) is not None
