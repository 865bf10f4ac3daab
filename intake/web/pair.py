"""The two pieces on the light table, and how the one lies to the other."""

from dataclasses import dataclass

from intake.services.shown import FamilyView, MatchView, MemberView, opens_with
from intake.services.upright import Matrix, at, inverse, registration, times
from intake.web import asked


@dataclass(frozen=True, slots=True)
class Pair:
    """The two pieces on the light table.

    ``shares`` leads from shares of a's upright picture to shares of b's; ``outline`` are b's corners as shares of a's.
    ``agreement`` are places as shares of a's upright picture, with how far edges run alike there (0 to 1).
    """

    a: MemberView
    b: MemberView
    match: MatchView | None
    by: tuple[str, ...]
    shares: tuple[float, ...] | None
    outline: tuple[tuple[float, float], ...]
    points: tuple[tuple[float, float, float, float], ...]
    agreement: tuple[tuple[float, float, float], ...]


def pair_of(view: FamilyView, a: str | None, b: str | None) -> Pair | None:
    """The two that were asked for; else those of the surest match between different kinds, else the first two."""
    there = [m for m in view.members if m.upright is not None and not m.withheld]
    if len(there) < 2:
        return None
    chosen = _chosen(view, there)
    if a or b:
        by_key = {m.key: m for m in there}
        first = by_key.get(asked.part(a)) if a else None
        second = by_key.get(asked.part(b)) if b else None
        first = first or next(m for m in (*chosen, *there) if m != second)
        second = second or next(m for m in (*reversed(chosen), *there) if m != first)
        chosen = (first, second) if first != second else chosen
    return _pair(view, *chosen)


def _chosen(view: FamilyView, there: list[MemberView]) -> tuple[MemberView, MemberView]:
    two = opens_with({m.key: m.kind for m in there}, (m.match for m in view.matches))
    if two is None:
        return there[0], there[1]
    by_key = {m.key: m for m in there}
    return by_key[two[0]], by_key[two[1]]


def _pair(view: FamilyView, a: MemberView, b: MemberView) -> Pair:
    found = registration(a.key, b.key, [m.match for m in view.matches])
    match = view.between(a.key, b.key)
    if found is None or a.upright is None or b.upright is None:
        return Pair(a, b, match, (), None, (), (), ())
    transform, by = found
    shares = times(b.upright.shares(), times(transform, inverse(a.upright.shares())))
    names = tuple(m.place for k in by if (m := view.member(k)))
    back = inverse(shares)
    outline = tuple(at(back, x, y) for x, y in ((0, 0), (1, 0), (1, 1), (0, 1)))
    return Pair(a, b, match, names, shares, outline, _points(match, a, b), _agreement(match, a, b, back))


def _points(match: MatchView | None, a: MemberView, b: MemberView) -> tuple[tuple[float, float, float, float], ...]:
    """Matched points as shares of both upright pictures."""
    if match is None or a.upright is None or b.upright is None:
        return ()
    made = []
    for xa, ya, xb, yb in match.match.points:
        here, there = ((xa, ya), (xb, yb)) if match.match.a == a.key else ((xb, yb), (xa, ya))
        made.append((*at(a.upright.shares(), *here), *at(b.upright.shares(), *there)))
    return tuple(made)


def _agreement(
    match: MatchView | None, a: MemberView, b: MemberView, back: Matrix
) -> tuple[tuple[float, float, float], ...]:
    """Where the match says that edges run alike; ``back`` leads from shares of b to shares of a."""
    if match is None or a.upright is None or b.upright is None:
        return ()
    made = []
    for x, y, alike in match.match.agreement:
        on_a = match.match.a == a.key
        place = at(a.upright.shares(), x, y) if on_a else at(back, *at(b.upright.shares(), x, y))
        made.append((*place, alike))
    return tuple(made)
