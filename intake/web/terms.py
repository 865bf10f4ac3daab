"""Words of the trade, explained where they stand: the first time on a page, by pointer and by keyboard."""

import re
from collections.abc import Mapping

from markupsafe import Markup, escape

_SHAPE = Markup('<button type="button" class="term" aria-describedby="{id}">{word}</button>'
                '<span role="tooltip" class="meaning" id="{id}">{meaning}</span>')  # fmt: skip


class Explained:
    """One page's words: each is explained once, or the page would have a stop of the keyboard at every word."""

    def __init__(self, meanings: Mapping[str, str], within: Mapping[str, str] | None = None) -> None:
        within = within or {}
        self._meanings = {**within, **meanings}
        self._said: set[str] = set()
        longest_first = "|".join(map(re.escape, sorted(within, key=len, reverse=True)))
        self._within = re.compile(rf"\b({longest_first})\b", re.IGNORECASE) if within else None

    def __call__(self, word: str) -> Markup:
        """The word, escaped; with what it means, where that is known and was not said on this page yet."""
        name = word.casefold()
        if name not in self._meanings or name in self._said:
            return escape(word)
        self._said.add(name)
        made = Markup('<span class="explained">') + _SHAPE.format(
            id=f"means-{len(self._said)}", word=word, meaning=self._meanings[name]
        )
        return made + Markup("</span>")

    def within(self, text: str) -> Markup:
        """The sentence, escaped; words in it that are explained in sentences with what they mean, as above."""
        pieces = self._within.split(text) if self._within else [text]
        return Markup("").join(self(piece) if n % 2 else escape(piece) for n, piece in enumerate(pieces))
