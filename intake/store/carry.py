"""The ledger as plain rows, to be carried to another home: what is of chosen files, table by table, and back in."""

import json
import re
from collections.abc import Collection, Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Table, insert, select
from sqlalchemy.exc import IntegrityError

from intake.store.schema import metadata

Row = dict[str, Any]

# Each table comes after those that it names. `related` stays: families are made anew where it lacks.
ORDER = (
    "consignment", "scan", "listed", "receipt_finding", "move", "move_reason", "piece_relation", "run", "work", "pair",
    "difference", "family", "member", "campaign", "campaign_family", "several", "queue_entry", "decision",
    "ruled_reading", "waiting_reading", "piece_fact", "family_fact",
)  # fmt: skip
_DIGEST = re.compile(r'"([0-9a-f]{64})"')
_AT_ONCE = 500


def rows_of(
    connection: Connection, name: str, codes: Collection[str], digests: Collection[str], before: dict[str, set[Any]]
) -> Iterator[Row]:
    """The rows of one table that are of these consignments and files, and name no others.

    ``before`` keeps, from one call to the next in ``ORDER``, what was carried: families, campaigns, decisions, moves.
    """
    table = metadata.tables[name]
    keys = list(table.primary_key.columns)
    for found in connection.execution_options(yield_per=_AT_ONCE).execute(select(table).order_by(*keys)).mappings():
        row = dict(found)
        if _is_of(name, row, codes, digests, before):
            if name == "run":
                row["report"] = None  # it tells of every box in the home
            if name in ("family", "campaign"):
                before.setdefault(name, set()).add(row["code"])
            if name in ("decision", "move"):
                before.setdefault(name, set()).add(row["id"])
            yield row


def _is_of(name: str, row: Row, codes: Collection[str], digests: Collection[str], before: dict[str, set[Any]]) -> bool:
    if name == "consignment":
        return row["code"] in codes
    if "consignment" in row and row["consignment"] not in codes:
        return False
    if name == "decision":
        named = _DIGEST.findall(row["parts"])
        at = re.search(r'"consignment": ("(?:[^"\\]|\\.)*")', row["shown"])
        here = set(named) <= set(digests) if named else bool(at and _text(at[1]) in codes)
        return here and (row["undoes"] is None or row["undoes"] in before.get("decision", ()))
    for column, of in (("family", "family"), ("campaign", "campaign"), ("decision", "decision"), ("move", "move")):
        if column in row and row[column] not in before.get(of, ()):
            return False
    if name in ("family", "family_fact"):
        return row["code"] in before.get("families_of", ())
    for column in ("digest", "digest_a", "digest_b"):
        if column in row and row[column] not in digests:
            return False
    texts = [row[c] for c in ("ties", "payload") if name in ("campaign", "several") and c in row]
    return all(d in digests for text in texts for d in _DIGEST.findall(text))


def _text(quoted: str) -> str:
    return str(json.loads(quoted))


def families_of(connection: Connection, digests: Collection[str]) -> set[str]:
    """The families that have a member among these files."""
    member = metadata.tables["member"]
    return {f for f, d in connection.execute(select(member.c.family, member.c.digest)) if d in digests}


def put_in(connection: Connection, name: str, rows: Iterable[Row]) -> int:
    """Add rows as they were carried; returns how many.

    Raises ValueError for a row that the table cannot hold: other columns, values of another type, a name of nothing.
    """
    table = metadata.tables[name]
    count, waiting = 0, []
    for row in rows:
        waiting.append(_fit(table, row))
        count += 1
        if len(waiting) == _AT_ONCE:
            _insert(connection, table, waiting)
            waiting = []
    _insert(connection, table, waiting)
    return count


def _insert(connection: Connection, table: Table, rows: list[Row]) -> None:
    try:
        if rows:
            connection.execute(insert(table), rows)
    except IntegrityError as error:
        raise ValueError(f"{table.name}: {error.orig}") from error


def is_empty(connection: Connection) -> bool:
    """Is nothing on record yet?"""
    return all(connection.execute(select(metadata.tables[name]).limit(1)).first() is None for name in ORDER)


def _fit(table: Table, row: Row) -> Row:
    if set(row) != set(table.columns.keys()):
        raise ValueError(f"{table.name}: a row has the columns {sorted(map(str, row))}")
    for column in table.columns:
        value, kind = row[column.name], column.type.python_type
        fits = isinstance(value, kind) or (kind is float and isinstance(value, int)) or (
            value is None and column.nullable
        )  # fmt: skip
        if not fits or (kind is int and isinstance(value, bool)):
            raise ValueError(f"{table.name}: {column.name} is {type(value).__name__}")
    return row
