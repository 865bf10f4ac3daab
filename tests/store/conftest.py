"""One database of each sort: SQLite in a file, and PostgreSQL where a server is installed."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from intake.store.database import Database, open_database


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """An empty database with its tables."""
    where = tmp_path / "kinfold.db" if request.param == "sqlite" else request.getfixturevalue("postgres_url")
    made = open_database(where)
    yield made
    made.close()
