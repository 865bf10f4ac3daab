"""More pairs to compare, proposed by what was already found: the mates of a part's mates."""

from collections.abc import Collection, Iterable

from intake.imaging.permute import Variant
from intake.kin import Match
from intake.model import PartKey

Pair = tuple[PartKey, PartKey]
_SURE = 0.9


def through_mates(matches: Iterable[Match], compared: Collection[Pair], most: int) -> dict[Pair, Variant]:
    """Pairs not yet compared whose parts both match a third surely, with how they must differ; at most ``most`` a part.

    The surest come first, so that ten thousand copies of one picture lead to no more work than others do.
    """
    mates: dict[PartKey, list[tuple[float, PartKey, Variant]]] = {}
    for match in matches:
        if match.relation == "shared_element" or match.probability < _SURE:
            continue
        variant = Variant(match.polarity_flip, match.mirror)
        mates.setdefault(match.a, []).append((-match.probability, match.b, variant))
        mates.setdefault(match.b, []).append((-match.probability, match.a, variant))
    nearest = {key: sorted(found, key=lambda f: f[:2])[:most] for key, found in mates.items()}
    proposed: dict[Pair, Variant] = {}
    for key in sorted(nearest):
        offers: dict[PartKey, tuple[float, Variant]] = {}
        for first, middle, one in nearest[key]:
            for second, end, other in nearest.get(middle, ()):
                pair = (key, end) if key < end else (end, key)
                if end == key or pair in compared:
                    continue
                differs = Variant(one.polarity_flip != other.polarity_flip, one.mirror != other.mirror)
                offer = (max(first, second), differs)
                if end not in offers or offer[0] < offers[end][0]:
                    offers[end] = offer
        for end, (_, differs) in sorted(offers.items(), key=lambda o: (o[1][0], o[0]))[:most]:
            proposed.setdefault((key, end) if key < end else (end, key), differs)
    return proposed
