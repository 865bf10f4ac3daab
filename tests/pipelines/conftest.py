"""The batch with its recorded readings, and what a run that nobody disturbed makes of it: both made once."""

import shutil
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.pipelines import batch


class Undisturbed(NamedTuple):
    """The exported tables, the rows of the ledger and the home of such a run."""

    tables: dict[str, str]
    rows: int
    home: Path


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The batch, and a config whose readers replay a recording."""
    return batch.record_readings(tmp_path_factory.mktemp("batch"))


@pytest.fixture(scope="session")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Undisturbed:
    """A home in which one run did everything. Tests only read it, or copy it."""
    home = tmp_path_factory.mktemp("undisturbed")
    batch.receive(folder, home)
    batch.finish(folder, home, "run")
    shutil.copytree(home / "prefect", folder / "prefect", ignore=shutil.ignore_patterns("server.pid"))
    return Undisturbed(batch.tables(folder, home), batch.progress(home), home)
