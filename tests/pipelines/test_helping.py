"""Work across scans that a run shares with helpers, of whom one is killed: the same tables, and nothing done twice."""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from intake.config.load import load_config
from intake.kin import Differences
from intake.services import piles, relate
from intake.services.home import Home
from intake.services.moving import move_home
from intake.services.space import Space
from intake.services.stamps import stamps_of
from intake.services.work import make_ready
from intake.services.workers import Workers
from intake.setup import engine_versions
from intake.store import differences, holds, runs
from pipelines import across, helping
from pipelines.night import Night
from pipelines.shift import Shift
from pipelines.stopping import Hands
from tests.pipelines import batch
from tests.pipelines.conftest import Undisturbed

pytestmark = pytest.mark.postgres
ROOT = Path(__file__).resolve().parents[2]
# A helper that notes what it has written; where it is told to, it is killed in the midst of its second chunk.
HELPER = """
import os, signal, sys
from pathlib import Path
from intake.services import piles
from intake.services.home import Home
from pipelines.helping import help_with
home, config, run, name, start, notes, dies = sys.argv[1:]
sort = piles._SORTS[name]
record = sort.record
def noted(self, home, made):
    with open(notes, "a") as file:
        if file.tell() and dies == "dies":
            os.kill(os.getpid(), signal.SIGKILL)
        record(self, home, made)
        file.write(f"{len(made)}\\n")
sort.record = noted
print(help_with(Home(Path(home)), Path(config), int(run), name, float(start)))
"""


@pytest.fixture
def uncompared(undisturbed: Undisturbed, tmp_path: Path, postgres_url: str) -> Iterator[Home]:
    """All scans looked at, in a shared database; nothing compared yet."""
    batch.finish_plain("backup", "--to", tmp_path / "kept.tar", home=undisturbed.home)
    batch.finish_plain("restore", tmp_path / "kept.tar", home=tmp_path / "home")
    home = Home(tmp_path / "home")
    move_home(home, postgres_url)
    home.database.close()
    shared = Home(tmp_path / "home")
    with shared.database.write() as connection:
        connection.exec_driver_sql("delete from pair")
        connection.exec_driver_sql("delete from difference")
    yield shared
    shared.database.close()


def shift_of(home: Home, folder: Path, call: Callable[[int, str], int]) -> Shift:
    config = load_config(folder / "config")
    eager = config.model_copy(update={"run": config.run.model_copy(update={"help_from_chunks": 1})})
    stamps = stamps_of(config)
    with home.database.write() as connection:
        number = runs.start_run(connection, "2026-01-01T00:00:00+00:00", engine_versions(), stamps)
    workers = Workers(1, 100.0, partial(make_ready, home.folder, folder / "config", 2000))
    night, space = Night(Console(quiet=True)), Space(1.0, False, 7.0, 1e6, 0.0)
    return Shift(home, eager, stamps, workers, night, Hands(), space, number, call)


def reports(home: Home) -> list[Differences]:
    with home.database.read() as connection:
        return differences.all_differences(connection)


def test_helpers_of_whom_one_is_killed(
    uncompared: Home, folder: Path, undisturbed: Undisturbed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[subprocess.Popen[str]] = []
    own: list[int] = []

    def call(run: int, name: str) -> int:
        for start, fate in ((0.0, "dies"), (0.5, "lives")):
            words = [uncompared.folder, folder / "config", run, name, start, tmp_path / f"{name}-{fate}", fate]
            helper = subprocess.Popen(
                [sys.executable, "-c", HELPER, *map(str, words)],
                cwd=ROOT,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                env=os.environ | {"PYTHONPATH": str(ROOT)},
            )
            started.append(helper)
            if fate == "dies":
                helper.wait(100)
        return 2

    for sort in (piles.PairPile, piles.ReportPile):
        record: Callable[..., None] = sort.record

        def noted(self: Any, home: Home, made: Sequence[Any], record: Callable[..., None] = record) -> None:
            record(self, home, made)
            own.append(len(made))

        monkeypatch.setattr(sort, "record", noted)
    shift = shift_of(uncompared, folder, call)
    across.match_all(shift, 1)
    relate.regroup(uncompared, shift.config, shift.stamps)
    across.differ_all(shift, 1)
    shift.workers.close()
    said = [helper.communicate(timeout=100)[0] for helper in started]
    assert [h.returncode for h in started] == [-9, 0, -9, 0], said

    with uncompared.database.write() as connection:
        runs.end_run(connection, shift.number, "2026-01-01T00:01:00+00:00", "done", "")
    assert batch.tables(folder, uncompared.folder) == undisturbed.tables
    alone = Home(undisturbed.home)
    expected = reports(alone)
    alone.database.close()
    assert reports(uncompared) == expected and len(expected) > 2
    by_helpers = [int(n) for path in tmp_path.glob("*-*ives") for n in path.read_text().split()]
    by_the_dead = [int(n) for path in tmp_path.glob("*-dies") for n in path.read_text().split()]
    assert sum(by_helpers) > sum(own), "helpers did little of it"
    with uncompared.database.read() as connection:
        count = connection.exec_driver_sql("select (select count(*) from pair) + (select count(*) from difference)")
        assert sum(by_helpers) + sum(by_the_dead) + sum(own) == count.scalar_one(), "something was written twice"
    assert not list(uncompared.scratch.iterdir())


@pytest.mark.parametrize("called", ["nobody comes", "nobody is there", "the server is away"])
def test_without_helpers_a_run_does_all_itself(
    called: str, uncompared: Home, folder: Path, undisturbed: Undisturbed, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(helping, "_COMING_S", 2.0)

    def call(*_: object) -> int:
        if called == "the server is away":
            raise OSError("no route to host")
        return 2 if called == "nobody comes" else 0

    began = time.monotonic()
    shift = shift_of(uncompared, folder, call)
    across.match_all(shift, 1)
    assert (time.monotonic() - began > 2.0) or called != "nobody comes"
    shift.workers.close()
    assert batch.tables(folder, uncompared.folder)["matches"] == undisturbed.tables["matches"]


def test_a_helper_that_comes_late_or_has_other_settings_writes_nothing(uncompared: Home, folder: Path) -> None:
    shift = shift_of(uncompared, folder, lambda *_: 0)
    shift.workers.close()
    config = folder / "config"
    assert helping.help_with(uncompared, config, shift.number, "pairs", 0.0) == "over before it began"
    pile = piles.PairPile(shift.stamps, (), 8)
    other = piles.PairPile(type(shift.stamps)(shift.stamps.stages, shift.stamps.whole, "another"), (), 8)
    with piles.offered(uncompared, shift.number, other), pytest.raises(Exception, match="other settings"):
        helping.help_with(uncompared, config, shift.number, "pairs", 0.0)
    helping._record(uncompared, pile, shift.number, [])
    with uncompared.database.write() as connection:
        runs.start_run(connection, "2026-01-01T00:00:01+00:00", engine_versions(), shift.stamps)
    with pytest.raises(Exception, match="has ended"):
        helping._record(uncompared, pile, shift.number, [])


def test_a_chunk_has_one_holder(uncompared: Home) -> None:
    database = uncompared.database
    with holds.claims(database, "7/pairs", helps=True) as one, holds.claims(database, "7/pairs", helps=False) as other:
        with one.claimed(0) as mine, other.claimed(0) as theirs, other.claimed(1) as next_one:
            assert (mine, theirs, next_one) == (True, False, True)
        with other.claimed(0) as theirs, database.read() as connection:
            assert theirs
            assert [holds.helpers(connection, f"{run}/pairs") for run in (7, 8)] == [1, 0]
    with database.read() as connection:
        assert holds.helpers(connection, "7/pairs") == 0
