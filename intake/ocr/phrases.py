"""Find the fixed words of a print code in a line where a reader slipped in a letter or lost a space."""

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

_SLIPS_PER = 7  # letters of a phrase for each slip that is forgiven


def fold(text: str) -> str:
    """Return ``text`` in upper case without accents, character for character."""
    return "".join(_plain(c) for c in text)


def with_phrase(text: str, phrase: str, slips: bool = True) -> str | None:
    """Return ``text`` with ``phrase`` written properly, set off by spaces, where something like it stands; else None.

    Spaces are ignored, and one slip for each seven letters of the phrase is forgiven, unless ``slips`` is false. A
    phrase of fewer letters stands at the beginning of a word: any word may hold it by chance.
    """
    places, begins, bare = _bared(text)
    _, _, wanted = _bared(phrase)
    start, end = _place_of(wanted, bare, slips, begins if len(wanted) < _SLIPS_PER else [])
    if start is None:
        return None
    before = text[: places[start]].rstrip()
    after = text[places[end - 1] + 1 :].lstrip()
    return " ".join(p for p in (before, phrase, after) if p)


@lru_cache(256)  # a line meets many phrases
def _bared(text: str) -> tuple[list[int], list[bool], str]:
    """Where the characters that are no spaces stand, which of them begin a word, and how they read folded."""
    places = [i for i, c in enumerate(text) if not c.isspace()]
    begins = [i == 0 or not (text[i - 1].isalnum() and text[i].isalnum()) for i in places]
    return places, begins, fold("".join(text[i] for i in places))


def _place_of(wanted: str, bare: str, slips: bool, begins: Sequence[bool]) -> tuple[int | None, int]:
    at = bare.find(wanted)
    while at >= 0 and begins and not begins[at]:
        at = bare.find(wanted, at + 1)
    if at >= 0:
        return at, at + len(wanted)
    allowed = len(wanted) // _SLIPS_PER if slips else 0
    if allowed == 0 or not _share_letters(wanted, bare, allowed):
        return None, 0
    # Approximate search (Sellers 1980, J. Algorithms 1:359-373): the row holds the cost of ``wanted`` ending here.
    costs = list(range(len(wanted) + 1))
    starts = [0] * (len(wanted) + 1)
    best: tuple[int, int, int] | None = None
    for j, letter in enumerate(bare, start=1):
        above, above_start = costs[0], starts[0]
        costs[0], starts[0] = 0, j
        for i, want in enumerate(wanted, start=1):
            options = (
                (above + (want != letter), above_start),
                (costs[i] + 1, starts[i]),
                (costs[i - 1] + 1, starts[i - 1]),
            )
            above, above_start = costs[i], starts[i]
            costs[i], starts[i] = min(options)
        if costs[-1] <= allowed and (best is None or costs[-1] < best[0]):
            best = (costs[-1], starts[-1], j)
    return (best[1], best[2]) if best else (None, 0)


def _share_letters(wanted: str, bare: str, allowed: int) -> bool:
    """A match with k slips leaves one of k + 1 equal pieces of the phrase untouched: a cheap test before the search."""
    step = len(wanted) // (allowed + 1)
    return any(wanted[i * step : (i + 1) * step] in bare for i in range(allowed + 1))


@lru_cache(1024)
def _plain(letter: str) -> str:
    base = unicodedata.normalize("NFD", letter)[0].upper()
    return base if len(base) == 1 else letter
