"""Who may work: a hold on a whole PostgreSQL database, or on one box in it. It ends with its connection, so with its
process or its machine, however they die.

A box's holder also shares the hold on the whole, which a run that compares and groups takes for itself alone.
"""

import hashlib
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from threading import Lock

from sqlalchemy import Connection, create_engine, text
from sqlalchemy.exc import DBAPIError

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
    with database.in_words("read"), _own_connection(database) as connection:
        if not _takes(connection, box):
            raise BusyError(f"{database}: at work here already: {', '.join(holders(connection)) or 'unknown'}.")
        yield


@contextmanager
def _own_connection(database: Database) -> Iterator[Connection]:
    """One of its own: what it holds ends with it. Its server notices within a minute when this machine is gone."""
    who = f"kinfold {socket.gethostname()[:30]} process {os.getpid()}"
    alive = {"application_name": who, "keepalives_idle": 20, "keepalives_interval": 10, "keepalives_count": 3}
    engine = create_engine(database.url, isolation_level="AUTOCOMMIT", connect_args=alive)
    try:
        with engine.connect() as connection:
            try:
                yield connection
            finally:  # at once: the end of a connection is noticed a little later
                with suppress(DBAPIError):  # where the server was away since, nothing is held any more
                    connection.exec_driver_sql("select pg_advisory_unlock_all()")
    finally:
        engine.dispose()


def holders(connection: Connection) -> list[str]:
    """The names of all who hold anything in this database."""
    return sorted({name for (name,) in connection.execute(_HOLDERS)})


def boxes_held(connection: Connection, boxes: list[tuple[str, str]]) -> set[tuple[str, str]]:
    """Those of the boxes that somebody works on right now."""
    taken = set(_numbers(connection))
    return {box for box in boxes if _number(box) in taken}


def _numbers(connection: Connection) -> list[int]:
    """The numbers of all locks that are held in this database, one for each holder."""
    rows = connection.execute(
        text(
            "select (classid::bigint << 32) | objid::bigint from pg_locks where locktype = 'advisory' and granted and "
            "database = (select oid from pg_database where datname = current_database())"
        )
    )
    return [int(number) for (number,) in rows]


class Claims:
    """Numbered chunks of one pile: each is claimed by one process at a time, until it lets go or its connection ends.

    May be asked by several threads, which must not ask for the same chunk at once.
    """

    def __init__(self, connection: Connection, pile: str) -> None:
        self._connection, self._lot = connection, pile
        self._guard = Lock()

    @contextmanager
    def claimed(self, chunk: int) -> Iterator[bool]:
        """Hold the chunk while inside; False where another process has it. Raises HomeError when the server is away."""
        number = _number((self._lot, str(chunk)))
        taken = self._asked("pg_try_advisory_lock", number)
        try:
            yield taken
        finally:
            if taken:
                self._asked("pg_advisory_unlock", number)

    def _asked(self, function: str, number: int) -> bool:
        with self._guard:
            return _ask(self._connection, function, number)


@contextmanager
def claims(database: Database, pile: str, *, helps: bool) -> Iterator[Claims]:
    """Claims on the chunks of a pile; ``helps``: this process is counted among its helpers while inside."""
    with database.in_words("read"), _own_connection(database) as connection:
        if helps:
            _ask(connection, "pg_try_advisory_lock_shared", _number((pile,)))
        yield Claims(connection, pile)


def helpers(connection: Connection, pile: str) -> int:
    """How many processes help with a pile right now."""
    return sum(number == _number((pile,)) for number in _numbers(connection))


def _takes(connection: Connection, box: tuple[str, str] | None) -> bool:
    if box is None:
        return _ask(connection, "pg_try_advisory_lock", _WHOLE)
    shared = _ask(connection, "pg_try_advisory_lock_shared", _WHOLE)
    return shared and _ask(connection, "pg_try_advisory_lock", _number(box))


def _ask(connection: Connection, function: str, number: int) -> bool:
    return bool(connection.execute(text(f"select {function}(:number)"), {"number": number}).scalar_one())


def _number(names: tuple[str, ...]) -> int:
    """The number among the locks of a box, a pile or a chunk, never the whole's: 62 bits of a digest of its names."""
    made = hashlib.sha256("\0".join(names).encode()).digest()
    return (int.from_bytes(made[:8], "big") >> 2) | 1
