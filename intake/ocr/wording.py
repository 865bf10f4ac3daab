"""Words of texts that readers made: folded so that two readings of one word meet, a slip of a letter apart."""

import re
import unicodedata
from collections.abc import Iterable, Mapping

_WORD = re.compile(r"[^\W\d_]+")
# A word of fewer letters with one letter changed is another word.
_LEAST_FOR_SLIPS = 7


def words_of(text: str, shortest: int, longest: int, cut: int) -> list[str]:
    """Return the words of ``text`` in their order, without case, accents, digits and signs.

    Only its first ``cut`` characters are looked at; shorter and longer words than told are left out.
    """
    bare = unicodedata.normalize("NFKD", text[:cut]).casefold()[: 4 * cut]
    letters = "".join(c for c in bare if not unicodedata.combining(c))
    return [word for word in _WORD.findall(letters) if shortest <= len(word) <= longest]


def heads_of(bearers: Mapping[str, int]) -> dict[str, str]:
    """Return word -> the word that it stands for: itself, or a more borne one that differs by a slip of the reader.

    ``bearers`` says how many bear each word. Two words of seven letters or more are one where they are the same after
    one letter at most is left out of each. A word stands for a head only, never for one that stands for another, so
    that slips do not chain. The order of the words does not matter; time grows with their letters.
    """
    heads: dict[str, str] = {}
    owner: dict[str, str] = {}
    for word in sorted(bearers, key=lambda w: (-bearers[w], w)):
        if len(word) < _LEAST_FOR_SLIPS:
            heads[word] = word
            continue
        spellings = _spellings(word)
        known = [owner[s] for s in spellings if s in owner]
        heads[word] = min(known, key=lambda w: (-bearers[w], w), default=word)
        if not known:
            owner.update(dict.fromkeys(spellings, word))
    return heads


def _spellings(word: str) -> Iterable[str]:
    return {word, *(word[:n] + word[n + 1 :] for n in range(len(word)))}
