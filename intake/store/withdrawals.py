"""A consignment taken back: everything of it leaves the tables, and an account of what was removed stays."""

import json
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, func, insert, or_, select, update

from intake.store.schema import (
    consignment,
    difference,
    listed,
    move,
    move_reason,
    pair,
    piece_fact,
    piece_relation,
    receipt_finding,
    run,
    scan,
    waiting_reading,
    withdrawal,
    work,
)

_AT_ONCE = 300


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """Who took back what, when and why; ``account``: how much of what was removed, and the digests of the files."""

    consignment: str
    at: str
    who: str
    why: str
    account: dict[str, Any]


def own_digests(connection: Connection, code: str) -> set[str]:
    """The files that this consignment alone holds."""
    here = set(connection.execute(select(scan.c.digest).where(scan.c.consignment == code)).scalars())
    others = set(connection.execute(select(scan.c.digest).where(scan.c.consignment != code)).scalars())
    return here - others


def remove(connection: Connection, code: str, gone: Collection[str]) -> dict[str, int]:
    """Take a consignment out of every table but the decisions; returns how many rows of what went.

    What is derived and names its parts has to be made anew afterwards.
    """
    counts = {}
    moves = select(move.c.id).where(move.c.consignment == code)
    connection.execute(delete(move_reason).where(move_reason.c.move.in_(moves)))
    counts["pieces"] = _count(connection, code)
    for name, table in (
        ("scans", scan), ("list lines", listed), ("receipt findings", receipt_finding), ("moves", move),
        ("stated relations", piece_relation),
    ):  # fmt: skip
        counts[name] = connection.execute(delete(table).where(table.c.consignment == code)).rowcount
    connection.execute(delete(consignment).where(consignment.c.code == code))
    connection.execute(update(run).values(report=None))  # a report tells of every box
    named = sorted(gone)
    counts["results"] = counts["compared pairs"] = 0
    for start in range(0, len(named), _AT_ONCE):
        some = named[start : start + _AT_ONCE]
        counts["results"] += connection.execute(delete(work).where(work.c.digest.in_(some))).rowcount
        either = or_(pair.c.digest_a.in_(some), pair.c.digest_b.in_(some))
        counts["compared pairs"] += connection.execute(delete(pair).where(either)).rowcount
        for column in (difference.c.digest_a, difference.c.digest_b):
            connection.execute(delete(difference).where(column.in_(some)))
        connection.execute(delete(piece_fact).where(piece_fact.c.digest.in_(some)))
        connection.execute(delete(waiting_reading).where(waiting_reading.c.digest.in_(some)))
    return counts


def _count(connection: Connection, code: str) -> int:
    pieces = select(scan.c.box, scan.c.piece).where(scan.c.consignment == code).distinct().subquery()
    return int(connection.execute(select(func.count()).select_from(pieces)).scalar_one())


def add_withdrawal(connection: Connection, w: Withdrawal) -> None:
    """Write down the account of a withdrawal."""
    row = {"consignment": w.consignment, "at": w.at, "who": w.who, "why": w.why, "account": json.dumps(w.account)}
    connection.execute(insert(withdrawal).values(row))


def all_withdrawals(connection: Connection) -> list[Withdrawal]:
    """Every withdrawal, the oldest first."""
    rows = connection.execute(select(withdrawal).order_by(withdrawal.c.id)).mappings()
    return [
        Withdrawal(r["consignment"], r["at"], r["who"], r["why"], json.loads(r["account"])) for r in rows
    ]  # fmt: skip
