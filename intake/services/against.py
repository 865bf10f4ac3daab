"""Where evidence that came since a ruling speaks against it. The ruling holds: only a person takes it back."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations, product

from intake.config.load import Config
from intake.kin import Decision, Match
from intake.model import PartKey
from intake.services.rulings import Pair, sides, standing
from intake.stages.group import log_odds

WEIGHTS_KEPT = 400


@dataclass(frozen=True, slots=True)
class Against:
    """One ruling, the parts that it is on, and what speaks against it, in words."""

    decision: Decision
    parts: frozenset[PartKey]
    words: str


def weights_of(matches: Iterable[Match], config: Config) -> list[list[object]]:
    """What a ruling keeps of the matches among its parts, to be set beside those that come later: a, b, log-odds."""
    said = sorted(((m.a, m.b, round(log_odds(m, config.group), 3)) for m in matches), key=lambda s: (-abs(s[2]), s[:2]))
    return [[list(a), list(b), weight] for a, b, weight in said[:WEIGHTS_KEPT]]


def against(decisions: Iterable[Decision], matches: Iterable[Match], config: Config) -> list[Against]:
    """Every standing ruling on what belongs together that later evidence speaks against, the oldest first.

    Of parts that were parted: a pair says by ``config.queue.speaks_against`` more for one design than it did then.
    Of parts that were put together: what the others say of a part was for it then, is against it now, and fell by that
    much. Rulings that did not keep what lay before the person cannot be told, and are left out.
    """
    now = {(m.a, m.b): log_odds(m, config.group) for m in matches}
    bound = config.queue.speaks_against
    made = []
    for decision in standing(decisions):
        kept = decision.shown.get("weights")
        if not isinstance(kept, list):
            continue
        then = {(PartKey(*a), PartKey(*b)): float(weight) for a, b, weight in kept}
        parts = frozenset(decision.parts)
        if decision.verb in ("part_off", "divide", "same_campaign"):
            first, rest = sides(decision)
            most = _most_risen(then, now, (_ordered(a, b) for a, b in product(first, rest)))
            if most and most[0] >= bound and now[most[1]] > 0:
                made.append(
                    Against(decision, parts, f"{decision.who} parted them; now a match says {now[most[1]]:+.1f}")
                )
        elif decision.verb in ("confirm", "join"):
            fallen = _fallen(then, now, decision.parts, bound)
            if fallen:
                words = f"{decision.who} put them together; what speaks for {fallen} of them has fallen below nothing"
                made.append(Against(decision, parts, words))
    return made


def _most_risen(
    then: Mapping[Pair, float], now: Mapping[Pair, float], pairs: Iterable[Pair]
) -> tuple[float, Pair] | None:
    return max(((now[p] - then.get(p, 0.0), p) for p in pairs if p in now), default=None)


def _fallen(then: Mapping[Pair, float], now: Mapping[Pair, float], parts: Iterable[PartKey], bound: float) -> int:
    """How many of the parts were held by matches when they were ruled on and are spoken against now."""
    before: dict[PartKey, float] = {}
    after: dict[PartKey, float] = {}
    for pair in (_ordered(*p) for p in combinations(sorted(set(parts)), 2)):
        for key in pair:
            before[key] = before.get(key, 0.0) + then.get(pair, 0.0)
            after[key] = after.get(key, 0.0) + now.get(pair, 0.0)
    return sum(before[k] > 0 > after[k] and before[k] - after[k] >= bound for k in before)


def _ordered(a: PartKey, b: PartKey) -> Pair:
    return (a, b) if a < b else (b, a)
