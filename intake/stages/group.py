"""Group matched parts into families by correlation clustering: every pair has a say, so no single link decides."""

import hashlib
import heapq
from collections.abc import Iterable, Sequence

from intake.config.group import GroupRules
from intake.model import Match, PartKey

VERSION = 1

Pair = tuple[PartKey, PartKey]
_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"


def group(
    parts: Sequence[PartKey],
    matches: Sequence[Match],
    together: Iterable[Pair],
    apart: Iterable[Pair],
    rules: GroupRules,
) -> list[tuple[PartKey, ...]]:
    """Families of two or more parts, each sorted, in the order of their first part; the input's order does not matter.

    Greedy additive edge contraction (Keuper et al. 2015): the two families whose pairs sum to the highest log-odds are
    joined first, until no join brings more than ``rules.least_total``. A pair without a match counts
    ``rules.unverified``. A person's rulings bind: ``together`` pairs end in one family, ``apart`` pairs in two; where
    rulings contradict each other, ``apart`` holds and the later of the ``together`` pairs (in sorted order) yields.
    """
    clusters = _Clusters(parts, apart)
    for a, b in sorted(_ordered(pair) for pair in together):
        clusters.join_by_ruling(a, b)
    clusters.weigh(matches, rules)
    clusters.contract(rules)
    return clusters.families()


def family_code(members: Iterable[PartKey]) -> str:
    """A short name that the same members always bear, and others practically never (40 bits of SHA-256)."""
    text = "\n".join(f"{digest} {part}" for digest, part in sorted(set(members)))
    number = int.from_bytes(hashlib.sha256(text.encode()).digest()[:5], "big")
    return "F-" + "".join(_LETTERS[(number >> shift) & 31] for shift in range(35, -1, -5))


def _ordered(pair: Pair) -> Pair:
    return (pair[0], pair[1]) if pair[0] < pair[1] else (pair[1], pair[0])


def log_odds(match: Match, rules: GroupRules) -> float:
    """What a match says about its parts being of one design."""
    if match.relation == "shared_element":
        return rules.shared_element
    weight = max(match.weight, rules.same_piece) if match.relation == "same_piece" else match.weight
    return max(-rules.most_weight, min(rules.most_weight, weight))


class _Clusters:
    """Clusters named by their first part, the summed surplus of matched pairs between them, and who must stay apart."""

    def __init__(self, parts: Sequence[PartKey], apart: Iterable[Pair]) -> None:
        self._members: dict[PartKey, list[PartKey]] = {part: [part] for part in sorted(set(parts))}
        self._home = {part: part for part in self._members}
        self._barred: dict[PartKey, set[PartKey]] = {part: set() for part in self._members}
        self._surplus: dict[PartKey, dict[PartKey, float]] = {part: {} for part in self._members}
        for a, b in apart:
            if a in self._home and b in self._home and a != b:
                self._barred[a].add(b)
                self._barred[b].add(a)

    def join_by_ruling(self, a: PartKey, b: PartKey) -> None:
        if a not in self._home or b not in self._home:
            return
        a, b = _ordered((self._home[a], self._home[b]))
        if a != b and b not in self._barred[a]:
            self._join(a, b)

    def weigh(self, matches: Sequence[Match], rules: GroupRules) -> None:
        """Sum, for each pair of clusters, how much more their matches say than unverified pairs would."""
        said = {}
        for match in sorted(matches, key=lambda m: (m.a, m.b, m.relation, m.weight)):
            if match.a in self._home and match.b in self._home:
                said[_ordered((match.a, match.b))] = round(log_odds(match, rules), 6)
        for (a, b), weight in sorted(said.items()):
            home_a, home_b = self._home[a], self._home[b]
            if home_a != home_b:
                surplus = self._surplus[home_a].get(home_b, 0.0) + weight - rules.unverified
                self._surplus[home_a][home_b] = self._surplus[home_b][home_a] = surplus

    def contract(self, rules: GroupRules) -> None:
        """Join the best pair of clusters again and again; ties go to the pair whose names sort first."""
        waiting = [self._bid(a, b, rules) for a in self._surplus for b in self._surplus[a] if a < b]
        heapq.heapify(waiting)
        while waiting:
            cost, a, b = heapq.heappop(waiting)
            if -cost <= rules.least_total:
                return
            if a not in self._members or b not in self._members or b in self._barred[a]:
                continue
            if self._bid(a, b, rules)[0] != cost:
                continue
            self._join(a, b)
            for other in self._surplus[a]:
                heapq.heappush(waiting, self._bid(*_ordered((a, other)), rules))

    def families(self) -> list[tuple[PartKey, ...]]:
        return sorted(tuple(sorted(members)) for members in self._members.values() if len(members) > 1)

    def _bid(self, a: PartKey, b: PartKey, rules: GroupRules) -> tuple[float, PartKey, PartKey]:
        pairs = len(self._members[a]) * len(self._members[b])
        return -round(self._surplus[a][b] + rules.unverified * pairs, 6), a, b

    def _join(self, a: PartKey, b: PartKey) -> None:
        """Take cluster ``b`` into ``a``, which sorts before it."""
        for part in self._members[b]:
            self._home[part] = a
        self._members[a] += self._members.pop(b)
        for other in self._barred.pop(b):
            self._barred[other].discard(b)
            self._barred[other].add(a)
            self._barred[a].add(other)
        for other, surplus in self._surplus.pop(b).items():
            del self._surplus[other][b]
            if other != a:
                total = self._surplus[a].get(other, 0.0) + surplus
                self._surplus[a][other] = self._surplus[other][a] = total
