"""XML written as text: a tree with an element for every word took six times as long, a third of a bag's time."""

import re
from xml.sax.saxutils import escape

_SPECIAL = re.compile('[&<>"\t\n\r]')
_IN_QUOTES = {'"': "&quot;", "\t": "&#09;", "\n": "&#10;", "\r": "&#13;"}


def quoted(text: str) -> str:
    """An attribute's value, with its quotation marks. ``text`` holds only what XML 1.0 may hold."""
    return f'"{escape(text, _IN_QUOTES) if _SPECIAL.search(text) else text}"'


def element(name: str, text: str) -> str:
    """An element that holds nothing but ``text``, which holds only what XML 1.0 may hold."""
    return f"<{name}>{escape(text) if _SPECIAL.search(text) else text}</{name}>"
