"""Open the database: SQLite in the home folder, or PostgreSQL by address.

SQLite: SQLAlchemy's default transactions silently lost updates when measured (counter 528 of 600). Autocommit on the
driver, WAL, a busy time-out and BEGIN IMMEDIATE for writers gave 600 of 600; readers take a plain BEGIN.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import DatabaseError, OperationalError

from intake.errors import HomeError
from intake.store.migrate import bring_forward, is_current

__all__ = ["Connection", "Database", "open_database"]

_BUSY_S = 60


class Database:
    """Reading and writing transactions on one database. Only the parent process of a run, and the desk, write."""

    def __init__(self, where: Path | str) -> None:
        self.url = URL.create("sqlite", database=str(where)) if isinstance(where, Path) else make_url(where)
        if not self.is_shared:
            self._reader, self._writer = _sqlite(self.url, "BEGIN"), _sqlite(self.url, "BEGIN IMMEDIATE")
        else:
            # Asked before use whether it still lives: a server may be restarted in the night.
            self._reader = create_engine(self.url, pool_pre_ping=True, isolation_level="REPEATABLE READ")
            self._writer = create_engine(self.url, pool_pre_ping=True)

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One consistent view. Raises HomeError when the database cannot be reached or is damaged."""
        with self.in_words("read"), self._reader.begin() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """One short transaction: all of it or nothing. Raises HomeError when the disk refuses."""
        with self.in_words("write"), self._writer.begin() as connection:
            yield connection

    def make_tables(self) -> None:
        """Create what is missing and bring older tables forward. Raises HomeError when those are not ours, or newer."""
        with self.read() as connection:
            if is_current(connection):
                return
        with self.write() as connection:
            bring_forward(connection, str(self))

    @property
    def is_shared(self) -> bool:
        """Is it a server, which several machines may write to at once?"""
        return self.url.get_backend_name() != "sqlite"

    def close(self) -> None:
        """Give back every connection."""
        self._reader.dispose()
        self._writer.dispose()

    def __str__(self) -> str:
        """Where it is, without a password."""
        return self.url.render_as_string() if self.is_shared else self.url.database or ""

    @contextmanager
    def in_words(self, what: str) -> Iterator[None]:
        """While inside, what the database refuses is a HomeError in plain words."""
        try:
            yield
        except DatabaseError as error:
            # What derives from it but is neither, such as a row that breaks a rule, is a fault of ours.
            if type(error) not in (DatabaseError, OperationalError):
                raise
            raise HomeError(
                f"{self}: cannot {what} ({str(error.orig).strip()}). See that the disk has room and may be written and "
                "that the database is there and whole; then run again. Or name another home with --home."
            ) from error


def open_database(path_or_url: Path | str) -> Database:
    """Open, and make the tables if they are not there.

    Raises HomeError when the file is no database of ours or cannot be written.
    """
    database = Database(path_or_url)
    database.make_tables()
    return database


def _sqlite(url: URL, begin: str) -> Engine:
    engine = create_engine(url, connect_args={"timeout": _BUSY_S, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def _on_connect(driver: Any, _record: Any) -> None:
        driver.isolation_level = None
        driver.execute("PRAGMA journal_mode=WAL")
        driver.execute("PRAGMA synchronous=FULL")
        driver.execute(f"PRAGMA busy_timeout={_BUSY_S * 1000}")
        driver.execute("PRAGMA foreign_keys=ON")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine
