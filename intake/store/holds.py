"""Who may work: a hold on a whole PostgreSQL database, or on one box in it. It ends with its connection, so with its
process or its machine, however they die.

A box's holder also shares the hold on the whole, which a run that compares and groups takes for itself alone.
"""

import hashlib
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, create_engine, text

from intake.errors import BusyError
from intake.store.database import Database

_WHOLE = 0
_HOLDERS = text(
    "select a.application_name from pg_locks l join pg_stat_activity a on a.pid = l.pid where l.locktype = 'advisory' "
    "and l.granted and l.database = (select oid from pg_database where datname = current_database())"
)


@contextmanager
def held(database: Database, box: tuple[str, str] | None) -> Iterator[None]:
    """Hold ``box`` (consignment, box) alone, or everything where it is None.

    Raises BusyError, naming who is at work, when another process has it; HomeError when the server is not there.
    """
    who = f"kinfold {socket.gethostname()[:30]} process {os.getpid()}"
    alive = {"application_name": who, "keepalives_idle": 20, "keepalives_interval": 10, "keepalives_count": 3}
    engine = create_engine(database.url, isolation_level="AUTOCOMMIT", connect_args=alive)
    try:
        with database.in_words("read"), engine.connect() as connection:
            if not _takes(connection, box):
                raise BusyError(f"{database}: at work here already: {', '.join(holders(connection)) or 'unknown'}.")
            yield
    finally:
        engine.dispose()


def holders(connection: Connection) -> list[str]:
    """The names of all who hold anything in this database."""
    return sorted({name for (name,) in connection.execute(_HOLDERS)})


def boxes_held(connection: Connection, boxes: list[tuple[str, str]]) -> set[tuple[str, str]]:
    """Those of the boxes that somebody works on right now."""
    rows = connection.execute(
        text(
            "select (classid::bigint << 32) | objid::bigint from pg_locks where locktype = 'advisory' and granted and "
            "database = (select oid from pg_database where datname = current_database())"
        )
    )
    taken = {int(number) for (number,) in rows}
    return {box for box in boxes if _number(box) in taken}


def _takes(connection: Connection, box: tuple[str, str] | None) -> bool:
    if box is None:
        return _ask(connection, "pg_try_advisory_lock", _WHOLE)
    shared = _ask(connection, "pg_try_advisory_lock_shared", _WHOLE)
    return shared and _ask(connection, "pg_try_advisory_lock", _number(box))


def _ask(connection: Connection, function: str, number: int) -> bool:
    return bool(connection.execute(text(f"select {function}(:number)"), {"number": number}).scalar_one())


def _number(box: tuple[str, str]) -> int:
    """A box's number among the locks, never the whole's: 62 bits of a digest of its names."""
    made = hashlib.sha256("\0".join(box).encode()).digest()
    return (int.from_bytes(made[:8], "big") >> 2) | 1
