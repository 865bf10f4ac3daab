"""The desk over a home made by hand: one for all tests that only look, a copy for each that writes."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from intake.config.load import Config, load_config
from tests.made import CONFIG
from tests.web.hand import Client, Made, build, copied


@pytest.fixture(scope="session")
def config() -> Config:
    """The settings as they are shipped."""
    return load_config(CONFIG)


@pytest.fixture(scope="session")
def looked_at(tmp_path_factory: pytest.TempPathFactory, config: Config) -> Iterator[Made]:
    """A home with two families, not to be written into."""
    built = build(tmp_path_factory.mktemp("desk") / "home", config)
    yield built
    built.home.database.close()


@pytest.fixture
def made(looked_at: Made) -> Made:
    """The home to look at; tests that write have their own copy under this name."""
    return looked_at


@pytest.fixture
def own(looked_at: Made, tmp_path: Path) -> Iterator[Made]:
    """A copy of the home, to be written into."""
    copy = copied(looked_at, tmp_path / "own")
    yield copy
    copy.home.database.close()


@pytest.fixture
def client(made: Made, config: Config) -> Client:
    """A browser on the same machine."""
    return Client(made.home, config)
