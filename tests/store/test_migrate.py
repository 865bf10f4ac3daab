"""Homes of older and newer versions: brought forward with all their rows, or refused in plain words."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from intake.errors import HomeError
from intake.store import migrate, runs
from intake.store.database import Database, open_database
from intake.store.schema import metadata

# What a home of the first version was made with (SQLite's own words, from a home of that day), and a row of a run.
FIRST = (Path(__file__).parent / "home-0001.sql").read_text(encoding="utf-8")


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """A home's file of the first version."""
    path = tmp_path / "kinfold.db"
    with closing(sqlite3.connect(path)) as made:
        made.executescript(FIRST)
    return path


def unlike(database: Database) -> list[object]:
    """What alembic finds to differ between the tables that are there and those of schema.py."""
    with database.read() as connection:
        wanted = {i.name for i in migrate.indexes_of(connection)}

        def is_for_it(_thing: object, name: str | None, sort: str, *_: object) -> bool:
            return sort != "index" or name in wanted

        context = MigrationContext.configure(connection, opts={"include_object": is_for_it})
        return list(compare_metadata(context, metadata))


def test_a_new_database_is_of_the_newest_version(database: Database) -> None:
    with database.read() as connection:
        assert connection.execute(text("select version_num from alembic_version")).all() == [(migrate.NEWEST,)]
    assert unlike(database) == []


def test_the_newest_version_is_the_last_revision() -> None:
    assert ScriptDirectory(str(migrate._FOLDER)).get_heads() == [migrate.NEWEST]


def test_a_home_of_the_first_version_is_brought_forward_with_its_rows(first: Path) -> None:
    """Red here after a change of schema.py? Then a table that is there in people's homes needs a revision."""
    database = open_database(first)
    assert unlike(database) == []
    with database.read() as connection:
        assert connection.execute(text("select ending from run")).scalar_one() == "done"
        stamps, settings = runs.current_stamps(connection), runs.current_settings(connection)
    assert stamps is not None
    assert (stamps.whole, settings) == ("w", None)
    database.close()
    again = open_database(first)
    assert unlike(again) == []
    again.close()


def test_a_server_of_the_first_version_is_brought_forward(database: Database) -> None:
    with database.write() as connection:
        connection.execute(text("alter table run drop column settings"))
        connection.execute(text("drop table alembic_version"))
    assert unlike(database) != []
    database.make_tables()
    assert unlike(database) == []


def test_a_newer_home_is_refused_and_left_alone(database: Database) -> None:
    with database.write() as connection:
        connection.execute(text("update alembic_version set version_num = '9999'"))
    with pytest.raises(HomeError, match="newer Kinfold"):
        database.make_tables()
    with database.read() as connection:
        assert connection.execute(text("select version_num from alembic_version")).scalar_one() == "9999"


def test_a_step_that_breaks_leaves_the_home_as_it_was(first: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("in the middle")

    monkeypatch.setattr(metadata, "create_all", broken)
    with pytest.raises(RuntimeError):
        open_database(first)
    with closing(sqlite3.connect(first)) as database:
        columns = [row[1] for row in database.execute("pragma table_info(run)")]
        tables = [row[0] for row in database.execute("select name from sqlite_master where type = 'table'")]
    assert "settings" not in columns
    assert "alembic_version" not in tables
