"""Decisions: rows are added, never changed or removed. Undoing is a row too."""

import json
from collections.abc import Iterable, Sequence
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


def _made(rows: Iterable[Any]) -> list[Decision]:
    return [
        Decision(number, at, who, verb, tuple(PartKey(*p) for p in json.loads(parts)), json.loads(shown), undoes)
        for number, at, who, verb, parts, shown, undoes in rows
    ]
