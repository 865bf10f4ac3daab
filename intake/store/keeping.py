"""A database as a file of its own to keep, and whether one is whole."""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, case, delete, select

from intake.model import PartKey
from intake.store.copying import copy_all
from intake.store.database import Database, open_database
from intake.store.schema import work

_PAGES_AT_ONCE = 2000
_AT_ONCE = 300


def snapshot(database: Database, to: Path) -> None:
    """Write one consistent state into the new SQLite file ``to``, while others may go on writing.

    From SQLite by its online backup (https://sqlite.org/backup.html), from a server row by row.
    """
    if database.is_shared:
        made = open_database(to)
        try:
            copy_all(database, made)
        finally:
            made.close()
    else:
        with (
            database.in_words("read"),
            closing(sqlite3.connect(str(database.url.database))) as source,
            closing(sqlite3.connect(to)) as target,
        ):
            source.backup(target, pages=_PAGES_AT_ONCE)
    with closing(sqlite3.connect(to)) as kept:
        kept.execute("PRAGMA journal_mode=DELETE")  # one file, whole by itself


def flaws(connection: Connection) -> list[str]:
    """What SQLite finds wrong with its own file: nothing where it is whole. A server looks after its own."""
    if connection.dialect.name != "sqlite":
        return []
    said = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check")]
    loose = [f"{table}: row {row} names a row of {other} that is not there" for table, row, other, _ in
             connection.exec_driver_sql("PRAGMA foreign_key_check")]  # fmt: skip
    return [s for s in said if s != "ok"] + loose


def results_with_files(connection: Connection, stages: tuple[str, ...]) -> list[tuple[PartKey, str, str, bool]]:
    """(part, stage, stamp, is a negative) of every finished result of these stages, under whatever stamp."""
    negative = case((work.c.payload.contains('"polarity":"negative"'), 1), else_=0)
    query = (
        select(work.c.digest, work.c.part, work.c.stage, work.c.stamp, negative)
        .where(work.c.stage.in_(stages), work.c.state == "done")
        .order_by(work.c.digest, work.c.part, work.c.stage)
    )
    return [(PartKey(d, part), stage, stamp, bool(n)) for d, part, stage, stamp, n in connection.execute(query)]


def forget_results(connection: Connection, digests: list[str]) -> None:
    """Drop everything that the ledger holds of these files, so that the next run looks at them as at new ones."""
    for start in range(0, len(digests), _AT_ONCE):
        connection.execute(delete(work).where(work.c.digest.in_(digests[start : start + _AT_ONCE])))
