"""Find numbered sets: cards of one size under one caption, each with a number of its own."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from intake.config.sets import SetRules
from intake.kin import NumberedSet
from intake.model import PartKey
from intake.ocr.text import squeeze

VERSION = 1

# A number as it stands on a card: by itself, or behind a few letters (``DC-4``, ``No. 12``). Three digits at most.
_NUMBER = re.compile(r"([^\d]{0,6})(\d{1,3})")
_LONGEST_TEXT = 120
# Cards that are alike are found through their first ones; more under one caption that are not alike are left out.
_MOST_FIRST = 8


@dataclass(frozen=True, slots=True)
class Caption:
    """A line on a card and its middle, as shares of the upright picture's width and height."""

    text: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Card:
    """What may be one of a set: the front of a piece. ``owner`` is its consignment; sizes in mm, when upright."""

    key: PartKey
    owner: str
    kind: str
    width_mm: float
    height_mm: float
    captions: tuple[Caption, ...]


@dataclass(frozen=True, slots=True)
class _Read:
    """A card's lines of text, and its numbers by what stands before them."""

    card: Card
    lines: dict[str, Caption]
    numbers: dict[str, tuple[int, Caption]]


def sets(cards: Iterable[Card], rules: SetRules) -> list[NumberedSet]:
    """Sets of two cards or more with two numbers or more, by their numbers; each card in one set at most.

    Two cards are of one set when they are of one owner, kind and size and bear one line of text and a number after one
    word at the same places. Time grows with the number of cards; their order does not matter.
    """
    read = [
        _read(c, rules) for c in sorted(cards, key=lambda c: c.key) if max(c.width_mm, c.height_mm) <= rules.longest_mm
    ]
    home = list(range(len(read)))
    first: dict[tuple[str, str, str, str], list[int]] = {}
    for n, one in enumerate(read):
        for line in one.lines:
            for word in one.numbers:
                firsts = first.setdefault((one.card.owner, one.card.kind, line, word), [])
                like = next((m for m in firsts if _alike(one, read[m], line, word, rules)), None)
                if like is not None:
                    _put_together(home, n, like)
                elif len(firsts) < _MOST_FIRST:
                    firsts.append(n)
    together: dict[int, list[_Read]] = {}
    for n, one in enumerate(read):
        together.setdefault(_root(home, n), []).append(one)
    return [made for found in together.values() if len(found) > 1 and (made := _numbered(found))]


def _read(card: Card, rules: SetRules) -> _Read:
    lines: dict[str, Caption] = {}
    numbers: dict[str, tuple[int, Caption]] = {}
    for caption in sorted(card.captions, key=lambda c: (c.y, c.x, c.text)):
        text = squeeze(caption.text[:_LONGEST_TEXT])
        if found := _NUMBER.fullmatch(text):
            word = "".join(c for c in found[1] if c.isalpha())
            numbers.setdefault(word, (int(found[2]), caption))
            continue
        letters = "".join(c for c in text if c.isalpha())
        if len(letters) >= rules.least_letters:
            lines.setdefault(letters, caption)
    return _Read(card, dict(list(lines.items())[: rules.most_lines]), dict(list(numbers.items())[: rules.most_lines]))


def _alike(one: _Read, other: _Read, line: str, word: str, rules: SetRules) -> bool:
    sizes = ((one.card.width_mm, other.card.width_mm), (one.card.height_mm, other.card.height_mm))
    if any(abs(a - b) > rules.size_share * max(a, b) for a, b in sizes):
        return False
    places = ((one.lines[line], other.lines[line]), (one.numbers[word][1], other.numbers[word][1]))
    return all(max(abs(a.x - b.x), abs(a.y - b.y)) <= rules.place_share for a, b in places)


def _numbered(found: Sequence[_Read]) -> NumberedSet | None:
    """The set with the numbers behind the word that most of its cards bear; None where all bear one number."""
    words = Counter(word for one in found for word in one.numbers)
    word = max(words, key=lambda w: (words[w], len({o.numbers[w][0] for o in found if w in o.numbers}), w))
    numbers = tuple(
        sorted(((o.card.key, o.numbers[word][0]) for o in found if word in o.numbers), key=lambda n: n[::-1])
    )
    return NumberedSet(numbers) if len({n for _, n in numbers}) > 1 else None


def _root(home: list[int], n: int) -> int:
    while home[n] != n:
        home[n] = home[home[n]]
        n = home[n]
    return n


def _put_together(home: list[int], a: int, b: int) -> None:
    one, other = _root(home, a), _root(home, b)
    home[max(one, other)] = min(one, other)
