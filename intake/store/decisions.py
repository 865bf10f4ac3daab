"""Decisions: rows are added, never changed or removed. Undoing is a row too."""

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, insert, select

from intake.model import Decision, PartKey, Verb
from intake.store.schema import decision


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
    rows = connection.execute(select(decision).order_by(decision.c.id))
    return [
        Decision(number, at, who, verb, tuple(PartKey(*p) for p in json.loads(parts)), json.loads(shown), undoes)
        for number, at, who, verb, parts, shown, undoes in rows
    ]
