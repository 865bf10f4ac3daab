"""Words of the trade, explained where they stand: the first time on a page, by pointer and by keyboard."""

from collections.abc import Mapping

from markupsafe import Markup, escape

_SHAPE = Markup('<button type="button" class="term" aria-describedby="{id}">{word}</button>'
                '<span role="tooltip" class="meaning" id="{id}">{meaning}</span>')  # fmt: skip


class Explained:
    """One page's words: each is explained once, or the page would have a stop of the keyboard at every word."""

    def __init__(self, meanings: Mapping[str, str]) -> None:
        self._meanings = meanings
        self._said: set[str] = set()

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
