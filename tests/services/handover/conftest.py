"""One archive, made once; each test that changes it gets a home of its own, copied."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from intake.kin import Difference, Differences
from intake.model import Box
from intake.services.home import Home
from intake.store.differences import Told, record_differences
from intake.store.pairs import ordered
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


@pytest.fixture
def differing(made: Archive) -> Archive:
    """The archive with what differs told of two pairs: C's painting with its sheet, and with the other owner's."""
    keys = made.keys
    region = (Box(100, 100, 200, 100), Box(200, 300, 250, 150))
    told = []
    for one, other in (("painting", "sheet"), ("painting", "other")):
        a, b = ordered(keys[one], keys[other])
        places = region if a == keys[one] else region[::-1]
        words = "a line is covered" if other == "sheet" else "the other owner's"
        told.append(Told(Differences(a, b, (Difference("covered", *places, 0.9, words),)), "stamp", 0.1))
    with made.home.database.write() as connection:
        record_differences(connection, told)
    return made
