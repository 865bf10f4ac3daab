"""All rows of one database into another, whatever sort the two are, and both compared row by row afterwards."""

import hashlib
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Integer, Table, delete, func, insert, select, text

from intake.store.database import Database
from intake.store.schema import metadata

_AT_ONCE = 1000


def copy_all(source: Database, target: Database) -> None:
    """Put every row of ``source`` into the empty ``target``, from one view and in one transaction."""
    with source.read() as reading, target.write() as writing:
        for table in reversed(metadata.sorted_tables):  # the version that an empty one already bears
            writing.execute(delete(table))
        for table in metadata.sorted_tables:
            for rows in _in_chunks(reading, table):
                writing.execute(insert(table), rows)
            _count_on(writing, table)


def rows_in_all(database: Database) -> int:
    """How many rows there are, the version's own left out."""
    with database.read() as connection:
        counted = (connection.execute(select(func.count()).select_from(t)).scalar_one() for t in _told())
        return sum(counted)


def differing(one: Database, other: Database) -> dict[str, tuple[int, int, str]]:
    """Tables that are not the same in both, row by row: name -> (rows here, rows there, the first key that differs)."""
    found = {}
    with one.read() as here, other.read() as there:
        for table in metadata.sorted_tables:
            a, b = _digests(here, table), _digests(there, table)
            if a != b:
                first = min(k for k in a.keys() | b.keys() if a.get(k) != b.get(k))
                found[table.name] = (len(a), len(b), first)
    return found


def _told() -> list[Table]:
    return [t for t in metadata.sorted_tables if t.name != "alembic_version"]


def _in_chunks(connection: Connection, table: Table) -> Iterator[list[dict[str, Any]]]:
    result = connection.execution_options(yield_per=_AT_ONCE).execute(select(table).order_by(*table.primary_key))
    for part in result.mappings().partitions(_AT_ONCE):
        yield [dict(row) for row in part]


def _digests(connection: Connection, table: Table) -> dict[str, bytes]:
    """Key -> a digest of the whole row. Keys are compared as text, since the two may sort text differently."""
    made = {}
    for rows in _in_chunks(connection, table):
        for row in rows:
            key = "|".join(str(row[c.name]) for c in table.primary_key)
            made[key] = hashlib.sha256(repr([row[c.name] for c in table.columns]).encode("utf-8", "replace")).digest()
    return made


def _count_on(connection: Connection, table: Table) -> None:
    """PostgreSQL numbers new rows by a counter of its own, which rows put in with their numbers do not move."""
    (key, *others) = table.primary_key
    is_counted = not others and isinstance(key.type, Integer) and not key.foreign_keys
    if is_counted and connection.dialect.name == "postgresql":
        sequence = connection.execute(select(func.pg_get_serial_sequence(table.name, key.name))).scalar_one()
        if sequence is not None:
            most = connection.execute(select(func.max(key))).scalar_one()
            if most is not None:
                connection.execute(text("select setval(:sequence, :most)"), {"sequence": sequence, "most": most})
