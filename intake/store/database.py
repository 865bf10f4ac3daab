"""Open the database: SQLite in the home folder, or PostgreSQL by address.

SQLite: SQLAlchemy's default transactions silently lost updates when measured (counter 528 of 600). Autocommit on the
driver, WAL, a busy time-out and BEGIN IMMEDIATE for writers gave 600 of 600; readers take a plain BEGIN.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError, OperationalError

from intake.errors import HomeError
from intake.store.schema import metadata

__all__ = ["Connection", "Database", "open_database"]

_BUSY_S = 60


class Database:
    """Reading and writing transactions on one database. Only the parent process of a run, and the desk, write."""

    def __init__(self, url: str) -> None:
        self.url = url
        if url.startswith("sqlite"):
            self._reader, self._writer = _sqlite(url, "BEGIN"), _sqlite(url, "BEGIN IMMEDIATE")
        else:
            self._reader = self._writer = create_engine(url)

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One consistent view."""
        with self._reader.begin() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """One short transaction: all of it or nothing. Raises HomeError when the disk refuses."""
        try:
            with self._writer.begin() as connection:
                yield connection
        except OperationalError as error:
            raise HomeError(
                f"{self.url}: cannot write: {error.orig}. Free space or make it writable, then run again."
            ) from error

    def make_tables(self) -> None:
        """Create what is missing; existing tables are left as they are."""
        with self.write() as connection:
            metadata.create_all(connection)

    def close(self) -> None:
        """Give back every connection."""
        self._reader.dispose()
        self._writer.dispose()


def open_database(path_or_url: Path | str) -> Database:
    """Open, and make the tables if they are not there.

    Raises HomeError when the file is no database of ours or cannot be written.
    """
    url = f"sqlite:///{path_or_url}" if isinstance(path_or_url, Path) else path_or_url
    database = Database(url)
    try:
        database.make_tables()
    except DatabaseError as error:
        raise HomeError(
            f"{path_or_url}: not a usable database ({error.orig}). Name another home with --home."
        ) from error
    return database


def _sqlite(url: str, begin: str) -> Engine:
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
