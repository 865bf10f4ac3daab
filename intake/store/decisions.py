"""Decisions: rows are added, never changed or removed. Undoing is a row too."""

import json
from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, insert, select

from intake.model import Decision, PartKey, Verb
from intake.store.schema import decision

_AT_ONCE = 400


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
    connection: Connection, verbs: Sequence[Verb], keys: Iterable[PartKey] | None = None
) -> list[Decision]:
    """Every decision of these verbs, each of which names one part, and every undoing; or those on ``keys`` alone."""
    query = select(decision).where(decision.c.verb.in_((*verbs, "undo"))).order_by(decision.c.id)
    if keys is None:
        return _made(connection.execute(query))
    named = sorted(json.dumps([key]) for key in set(keys))
    rows = [
        row
        for start in range(0, len(named), _AT_ONCE)
        for row in connection.execute(query.where(decision.c.parts.in_(named[start : start + _AT_ONCE])))
    ]
    return sorted(_made(rows), key=lambda d: d.id)


def _made(rows: Iterable[Any]) -> list[Decision]:
    return [
        Decision(number, at, who, verb, tuple(PartKey(*p) for p in json.loads(parts)), json.loads(shown), undoes)
        for number, at, who, verb, parts, shown, undoes in rows
    ]
