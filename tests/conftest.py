"""What tests in several folders share."""

from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy
from hypothesis import settings

from intake.config.receive import ReceiveRules
from intake.services.home import Home
from tests.made import CONFIG, section
from tests.postgres import running_postgres

# Speed is measured in benchmarks: on a busy machine an example may take long and still be right.
settings.register_profile("kinfold", deadline=None)
settings.load_profile("kinfold")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    """An empty home."""
    made = Home(tmp_path / "home")
    yield made
    made.database.close()


@pytest.fixture(scope="session")
def receive_rules() -> ReceiveRules:
    """The rules of receiving as they are shipped."""
    return section(ReceiveRules, CONFIG / "receive.toml")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The address of a server's first database; started once, and only when a test asks."""
    with running_postgres() as address:
        yield address


@pytest.fixture
def postgres_url(postgres_server: str, request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of an empty database, dropped afterwards."""
    server = sqlalchemy.create_engine(postgres_server, isolation_level="AUTOCOMMIT")
    name = f"t{abs(hash(request.node.nodeid)):x}"
    with server.connect() as connection:
        connection.execute(sqlalchemy.text(f"create database {name}"))
    yield postgres_server.rpartition("/")[0] + "/" + name
    with server.connect() as connection:
        connection.execute(sqlalchemy.text(f"drop database {name} with (force)"))
    server.dispose()
