"""Group matched parts into families by correlation clustering: every pair has a say, so no single link decides."""

import hashlib
import heapq
from collections.abc import Iterable, Sequence

import numpy as np

from intake.config.group import GroupRules
from intake.kin import Match
from intake.model import PartKey

VERSION = 2

_MOST_ROUNDS = 20

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

    Greedy additive edge contraction, then moves and splits by Kernighan-Lin where they raise the sum (Keuper et al.
    2015): the two families whose pairs sum to the highest log-odds are joined first, until no join brings more than
    ``rules.least_total``; then parts go over to another family where they are more at home. A pair without a match
    counts ``rules.unverified``. A person's rulings bind: ``together`` pairs end in one family, ``apart`` pairs in two;
    where rulings contradict each other, ``apart`` holds and the later of the ``together`` pairs (in sorted order)
    yields.
    """
    known = sorted(set(parts))
    parted = {_ordered(pair) for pair in apart}
    units = _units(known, sorted(_ordered(pair) for pair in together), parted)
    clusters = _Clusters(units, parted, matches, rules)
    for _ in range(_MOST_ROUNDS):
        clusters.contract()
        changed = clusters.move()
        if not clusters.split() and not changed:
            break
    return clusters.families()


def family_code(members: Iterable[PartKey], letter: str = "F") -> str:
    """A short name that the same members always bear, and others practically never (40 bits of SHA-256).

    ``letter`` says what is named: a family, or a campaign by the members of all its families.
    """
    text = "\n".join(f"{digest} {part}" for digest, part in sorted(set(members)))
    number = int.from_bytes(hashlib.sha256(text.encode()).digest()[:5], "big")
    return f"{letter}-" + "".join(_LETTERS[(number >> shift) & 31] for shift in range(35, -1, -5))


def _ordered(pair: Pair) -> Pair:
    return (pair[0], pair[1]) if pair[0] < pair[1] else (pair[1], pair[0])


def log_odds(match: Match, rules: GroupRules) -> float:
    """What a match says about its parts being of one design."""
    if match.relation == "shared_element":
        return rules.shared_element
    weight = max(match.weight, rules.same_piece) if match.relation == "same_piece" else match.weight
    return max(-rules.most_weight, min(rules.most_weight, weight))


def _units(parts: Sequence[PartKey], together: Sequence[Pair], apart: set[Pair]) -> list[tuple[PartKey, ...]]:
    """The parts, those that a person joined as one."""
    home = {part: [part] for part in parts}
    for a, b in together:
        if a not in home or b not in home or home[a] is home[b]:
            continue
        if any(_ordered((one, other)) in apart for one in home[a] for other in home[b]):
            continue
        home[a] += home[b]
        home.update(dict.fromkeys(home[b], home[a]))
    return sorted({tuple(sorted(unit)) for unit in home.values()})


class _Clusters:
    """Clusters of units, named by their lowest unit.

    ``_said`` holds how much more the matches between two units say than as many unverified pairs would.
    """

    def __init__(
        self, units: list[tuple[PartKey, ...]], apart: set[Pair], matches: Iterable[Match], rules: GroupRules
    ) -> None:
        self._rules = rules
        self._units = units
        self._unit_of = {part: n for n, unit in enumerate(units) for part in unit}
        self._barred: list[set[int]] = [set() for _ in units]
        for a, b in apart:
            if a in self._unit_of and b in self._unit_of and self._unit_of[a] != self._unit_of[b]:
                self._barred[self._unit_of[a]].add(self._unit_of[b])
                self._barred[self._unit_of[b]].add(self._unit_of[a])
        self._said: list[dict[int, float]] = [{} for _ in units]
        for (a, b), weight in sorted(self._pairs(matches).items()):
            one, other = self._unit_of[a], self._unit_of[b]
            if one != other:
                total = self._said[one].get(other, 0.0) + weight - rules.unverified
                self._said[one][other] = self._said[other][one] = total
        self._members: dict[int, list[int]] = {n: [n] for n in range(len(units))}

    def _pairs(self, matches: Iterable[Match]) -> dict[Pair, float]:
        known = [m for m in matches if m.a in self._unit_of and m.b in self._unit_of]
        ranked = sorted(known, key=lambda m: (m.a, m.b, m.relation, m.weight))
        return {_ordered((m.a, m.b)): round(log_odds(m, self._rules), 6) for m in ranked}

    def contract(self) -> None:
        """Join the best pair of clusters again and again; ties go to the pair whose names sort first."""
        home = {unit: name for name, cluster in self._members.items() for unit in cluster}
        surplus = self._between(home)
        barred = {n: {home[other] for unit in c for other in self._barred[unit]} for n, c in self._members.items()}
        waiting = [self._bid(surplus, a, b) for a in surplus for b in surplus[a] if a < b]
        heapq.heapify(waiting)
        while waiting:
            cost, a, b = heapq.heappop(waiting)
            if -cost <= self._rules.least_total:
                return
            gone = a not in self._members or b not in self._members
            if gone or b in barred[a] or self._bid(surplus, a, b)[0] != cost:
                continue
            self._members[a] += self._members.pop(b)
            for other in barred.pop(b):
                barred[other].discard(b)
                barred[other].add(a)
                barred[a].add(other)
            for other, more in surplus.pop(b).items():
                del surplus[other][b]
                if other != a:
                    surplus[a][other] = surplus[other][a] = surplus[a].get(other, 0.0) + more
            for other in surplus[a]:
                heapq.heappush(waiting, self._bid(surplus, min(a, other), max(a, other)))

    def move(self) -> bool:
        """Let every unit that another cluster says more for go there, until none does; False when none did."""
        home = {unit: name for name, cluster in self._members.items() for unit in cluster}
        sizes = {name: self._parts_in(name) for name in self._members}
        moved = False
        for _ in range(_MOST_ROUNDS):
            again = False
            for unit in sorted(home):
                there = self._better_home(unit, home, sizes)
                if there is not None:
                    own = len(self._units[unit])
                    sizes[home[unit]] -= own
                    sizes[there] += own
                    home[unit] = there
                    moved = again = True
            if not again:
                break
        if moved:
            clusters: dict[int, list[int]] = {}
            for unit in sorted(home):
                clusters.setdefault(home[unit], []).append(unit)
            self._members = {min(c): c for c in clusters.values()}
        return moved

    def _better_home(self, unit: int, home: dict[int, int], sizes: dict[int, int]) -> int | None:
        """The cluster that ``unit`` is clearly more at home in than in its own, one it is not alone in."""
        own = len(self._units[unit])
        here = home[unit]
        if sizes[here] == own:
            return None
        says = {here: self._rules.unverified * own * (sizes[here] - own)}
        for other, more in self._said[unit].items():
            there = home[other]
            if there not in says:
                says[there] = self._rules.unverified * own * sizes[there]
            says[there] += more
        for other in self._barred[unit]:
            says.pop(home[other], None)
        best = max(sorted(says), key=lambda name: round(says[name], 6), default=here)
        return best if best != here and says[best] > says.get(here, 0.0) + 1e-6 else None

    def split(self) -> bool:
        """Cut every cluster whose halves say less than nothing to each other; False when none does."""
        cut = False
        for name in sorted(self._members):
            members = sorted(self._members[name])
            away = self._best_cut(members)
            if away:
                cut = True
                del self._members[name]
                for side in (away, [m for m in members if m not in away]):
                    self._members[min(side)] = side
        return cut

    def families(self) -> list[tuple[PartKey, ...]]:
        joined = (tuple(sorted(p for unit in c for p in self._units[unit])) for c in self._members.values())
        return sorted(family for family in joined if len(family) > 1)

    def _between(self, home: dict[int, int]) -> dict[int, dict[int, float]]:
        surplus: dict[int, dict[int, float]] = {name: {} for name in self._members}
        for unit, said in enumerate(self._said):
            for other, more in said.items():
                if home[unit] != home[other]:
                    row = surplus[home[unit]]
                    row[home[other]] = row.get(home[other], 0.0) + more
        return surplus

    def _bid(self, surplus: dict[int, dict[int, float]], a: int, b: int) -> tuple[float, int, int]:
        pairs = self._parts_in(a) * self._parts_in(b)
        return -round(surplus[a][b] + self._rules.unverified * pairs, 6), a, b

    def _parts_in(self, cluster: int) -> int:
        return sum(len(self._units[unit]) for unit in self._members[cluster])

    def _best_cut(self, members: list[int]) -> list[int]:
        """The units that one Kernighan-Lin pass would move out of a cluster, or none when no cut raises the sum."""
        sizes = np.array([len(self._units[m]) for m in members], np.float64)
        said = self._rules.unverified * np.outer(sizes, sizes)
        place = {m: n for n, m in enumerate(members)}
        for n, m in enumerate(members):
            for other, more in self._said[m].items():
                if other in place:
                    said[n, place[other]] += more
        np.fill_diagonal(said, 0)
        gains = -said.sum(axis=1)
        moved: list[int] = []
        sums = [0.0]
        for _ in range(len(members) - 1):
            best = int(np.round(gains, 6).argmax())
            moved.append(best)
            sums.append(sums[-1] + float(gains[best]))
            gains = gains + 2 * said[best]
            gains[best] = -np.inf
        if len(sums) == 1 or max(sums[1:]) <= 1e-6 - self._rules.least_total:
            return []
        return [members[n] for n in moved[: int(np.argmax(np.round(sums[1:], 6))) + 1]]
