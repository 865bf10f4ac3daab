"""The desk over a home made by hand: one for all tests that only look, a copy for each that writes."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from intake.config.load import Config, load_config
from intake.kin import Match
from intake.services import find
from tests.made import CONFIG, match
from tests.web.browsing import Desk, served
from tests.web.hand import SCALE, Client, Made, build, copied


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


@pytest.fixture
def searched(monkeypatch: pytest.MonkeyPatch, made: Made) -> list[find.Offered]:
    """The search itself is tested elsewhere (tests/services/test_find.py): here it answers with the artwork."""
    asked_with: list[find.Offered] = []

    def answer(_home: object, _config: object, offered: find.Offered) -> find.Searched:
        asked_with.append(offered)
        scale = offered.width / (600 * SCALE)
        forward = np.diag([scale, scale, 1.0])  # the scan's pixels to those of the offered picture
        first = min(made.art, offered.key)
        stored = forward if first == made.art else np.linalg.inv(forward)
        found: Match = match(made.art, offered.key, transform=tuple(float(v) for v in stored.ravel()))
        return find.Searched(((made.art, found),), 7, ("C / B09",))

    monkeypatch.setattr(find, "search_all", answer)
    return asked_with


@pytest.fixture
def desk(own: Made, config: Config) -> Iterator[Desk]:
    """A home that may be written into, served to a browser."""
    with served(own, config) as there:
        yield there
