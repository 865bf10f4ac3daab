"""One archive, made once; each test that changes it gets a home of its own, copied."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from intake.services.home import Home
from tests.services.handover.archive import Archive, accepted, archive, confirmed


@pytest.fixture(scope="session")
def ruled_archive(tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """The archive with Ida's rulings; to be copied, never to be changed."""
    folder = tmp_path_factory.mktemp("ruled")
    home = Home(folder / "home")
    made = confirmed(accepted(archive(home, folder / "in"), "sheet"))
    home.database.close()
    return made


@pytest.fixture
def made(ruled_archive: Archive, tmp_path: Path) -> Iterator[Archive]:
    """The same in a home of one's own; the received files are shared, and only read."""
    home = Home(shutil.copytree(ruled_archive.home.folder, tmp_path / "home"))
    yield replace(ruled_archive, home=home)
    home.database.close()
