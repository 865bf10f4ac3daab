"""What holds a family together: the links of its strongest tree, and the weakest of them."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from intake.kin import Match
from intake.model import PartKey


@dataclass(frozen=True, slots=True)
class Holding:
    """The weakest link without which a family falls in two, and the parts on its smaller side."""

    link: Match
    side: frozenset[PartKey]


def weakest_link(
    members: Collection[PartKey], matches: Iterable[Match], piece_of: Mapping[PartKey, object]
) -> Holding | None:
    """The weakest link of the strongest spanning tree (Kruskal 1956); None where no link is needed.

    Scans of one piece hang together by their names. Of links equally strong the first in the order of parts counts.
    """
    inside = sorted(members)
    links = [m for m in matches if m.a in members and m.b in members and m.relation != "shared_element"]
    first: dict[object, PartKey] = {}
    named = [(first.setdefault(piece_of[key], key), key) for key in inside]
    tree: list[Match] = []
    home = {key: key for key in inside}
    for one, other in named:
        _join(home, one, other)
    for link in sorted(links, key=lambda m: (-m.probability, -m.weight, m.a, m.b)):
        if _join(home, link.a, link.b):
            tree.append(link)
    if not tree:
        return None
    weakest = tree[-1]
    home = {key: key for key in inside}
    for one, other in (*named, *((m.a, m.b) for m in tree[:-1])):
        _join(home, one, other)
    sides = [frozenset(k for k in inside if _root(home, k) == _root(home, end)) for end in (weakest.a, weakest.b)]
    return Holding(weakest, min(sides, key=lambda side: (len(side), sorted(side))))


def _root(home: dict[PartKey, PartKey], key: PartKey) -> PartKey:
    while home[key] != key:
        key = home[key]
    return key


def _join(home: dict[PartKey, PartKey], a: PartKey, b: PartKey) -> bool:
    one, other = _root(home, a), _root(home, b)
    home[max(one, other)] = min(one, other)
    return one != other
