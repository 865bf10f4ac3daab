"""Decisions: rows are added, never changed or removed. Undoing is a row too."""

import json
from collections.abc import Iterable, Sequence, Set
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, func, insert, select

from intake.kin import Decision, Verb
from intake.model import PartKey
from intake.store.schema import decision

_AT_ONCE = 400
_DIGEST_AT, _DIGEST_LONG = 4, 64  # where the first part's digest stands in [["...", 1]]


def add_decision(
    connection: Connection,
    at: str,
    who: str,
    verb: Verb,
    parts: Sequence[PartKey],
    shown: dict[str, Any],
    undoes: int | None = None,
) -> int:
    """Add one; returns its number."""
    number = connection.execute(
        insert(decision)
        .values(made_at=at, who=who, verb=verb, parts=json.dumps(parts), shown=json.dumps(shown), undoes=undoes)
        .returning(decision.c.id)
    ).scalar_one()
    return int(number)


def all_decisions(connection: Connection) -> list[Decision]:
    """Every decision ever made, the oldest first."""
    return _made(connection.execute(select(decision).order_by(decision.c.id)))


def decisions_on_readings(
    connection: Connection, verbs: Sequence[Verb], digests: Iterable[str] | None = None
) -> list[Decision]:
    """Every decision of these verbs that names one part, and the undoings of them; or those on these files alone."""
    query = select(decision).where(decision.c.verb.in_((*verbs, "undo"))).order_by(decision.c.id)
    named = None if digests is None else sorted(set(digests))
    found = (
        [query]
        if named is None
        else [
            query.where(func.substr(decision.c.parts, _DIGEST_AT, _DIGEST_LONG).in_(named[start : start + _AT_ONCE]))
            for start in range(0, len(named), _AT_ONCE)
        ]
    )
    made = [d for some in found for d in _made(connection.execute(some)) if len(d.parts) == 1]
    return sorted(made, key=lambda d: d.id)


def decisions_of(connection: Connection, verbs: Sequence[Verb]) -> list[Decision]:
    """Every decision of these verbs, and all undoings, the oldest first."""
    query = select(decision).where(decision.c.verb.in_((*verbs, "undo"))).order_by(decision.c.id)
    return _made(connection.execute(query))


def on_families(connection: Connection, verbs: Sequence[Verb], parts: Set[PartKey]) -> list[Decision]:
    """Every decision of these verbs that names any of these parts, and the undoings of them, the oldest first.

    What lay before the person is read of these alone: of many decisions it is most of the bytes.
    """
    slim = select(decision.c.id, decision.c.parts, decision.c.undoes)
    named: list[int] = []
    for number, text, undoes in connection.execute(slim.where(decision.c.verb.in_((*verbs, "undo")))):
        if undoes is not None or not parts.isdisjoint(_parts(text)):
            named.append(number)
    return decisions_by_number(connection, named)


def heads(connection: Connection) -> list[Decision]:
    """Every decision, the oldest first, without its parts and what was shown."""
    columns = (decision.c.id, decision.c.made_at, decision.c.who, decision.c.verb, decision.c.undoes)
    rows = connection.execute(select(*columns).order_by(decision.c.id)).all()
    return [Decision(number, at, who, verb, (), {}, undoes) for number, at, who, verb, undoes in rows]


def people(connection: Connection) -> list[str]:
    """Everybody who ever decided anything, by name."""
    return [who for (who,) in connection.execute(select(decision.c.who).distinct().order_by(decision.c.who))]


def slim(connection: Connection, verbs: Sequence[Verb]) -> list[Decision]:
    """Every decision of these verbs, and all undoings, the oldest first, without what was shown."""
    d = decision.c
    query = select(d.id, d.made_at, d.who, d.verb, d.parts, d.undoes).where(d.verb.in_((*verbs, "undo")))
    rows = connection.execute(query.order_by(d.id)).all()
    return [Decision(n, at, who, verb, _parts(parts), {}, undoes) for n, at, who, verb, parts, undoes in rows]


def undoing(connection: Connection, number: int) -> Decision | None:
    """The decision that took this one back, if any."""
    return next(iter(_made(connection.execute(select(decision).where(decision.c.undoes == number)))), None)


def later_on(connection: Connection, number: int, parts: Set[PartKey]) -> list[Decision]:
    """Every decision after this one that names any of these parts, the oldest first."""
    slim = select(decision.c.id, decision.c.parts).where(decision.c.id > number)
    found = [n for n, text in connection.execute(slim) if not parts.isdisjoint(_parts(text))]
    return decisions_by_number(connection, found)


def of_batch(connection: Connection, batch: str) -> list[Decision]:
    """The decisions that were made in one go under this mark, the oldest first."""
    query = select(decision).where(decision.c.shown.contains(f'"batch": "{batch}"', autoescape=True))
    return _made(connection.execute(query.order_by(decision.c.id)))


def parts_named(connection: Connection, verbs: Sequence[Verb]) -> list[tuple[PartKey, ...]]:
    """The parts that each decision of these verbs names."""
    rows = connection.execute(select(decision.c.parts).where(decision.c.verb.in_(verbs)))
    return [_parts(text) for (text,) in rows]


def decisions_by_number(connection: Connection, numbers: Iterable[int]) -> list[Decision]:
    """These decisions, the oldest first."""
    wanted = sorted(set(numbers))
    made: list[Decision] = []
    for start in range(0, len(wanted), _AT_ONCE):
        query = select(decision).where(decision.c.id.in_(wanted[start : start + _AT_ONCE])).order_by(decision.c.id)
        made += _made(connection.execute(query))
    return made


@lru_cache(maxsize=20_000)
def _parts(text: str) -> tuple[PartKey, ...]:
    return tuple(PartKey(*p) for p in json.loads(text))


def _made(rows: Iterable[Any]) -> list[Decision]:
    return [
        Decision(number, at, who, verb, tuple(PartKey(*p) for p in json.loads(parts)), json.loads(shown), undoes)
        for number, at, who, verb, parts, shown, undoes in rows
    ]
