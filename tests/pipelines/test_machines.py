"""A home on a PostgreSQL server: moved there row by row, and worked on by two at once, of whom one is killed."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
import sqlalchemy

from intake.errors import BusyError, HomeError, UsageError
from intake.services.home import Home
from intake.services.moving import move_home
from intake.store.copying import differing
from intake.store.database import open_database
from intake.store.holds import boxes_held
from tests.pipelines import batch
from tests.pipelines.conftest import Undisturbed
from tests.pipelines.prefect_server import running_server

pytestmark = pytest.mark.postgres
ROOT = Path(__file__).resolve().parents[2]


def start_worker(folder: Path, home: Path, server: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-m", "tests.pipelines.box_worker", str(home), str(folder / "config")],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        env=os.environ | {"PYTHONPATH": str(ROOT), "KINFOLD_SERVER": server},
    )


def cut_all_off(url: str, for_s: float) -> None:
    """What a restart of the server does to everybody: all connections end, and for a while there are no new ones."""
    engine = sqlalchemy.create_engine(url.rpartition("/")[0] + "/postgres", isolation_level="AUTOCOMMIT")
    name = url.rpartition("/")[2]
    with engine.connect() as connection:
        connection.exec_driver_sql(f"alter database {name} with allow_connections false")
        connection.exec_driver_sql(f"select pg_terminate_backend(pid) from pg_stat_activity where datname = '{name}'")
        time.sleep(for_s)
        connection.exec_driver_sql(f"alter database {name} with allow_connections true")
    engine.dispose()


def rows(url: str) -> int:
    engine = sqlalchemy.create_engine(url)
    with engine.connect() as connection:
        count = "select (select count(*) from work) + (select count(*) from pair)"
        counted = connection.execute(sqlalchemy.text(count)).scalar_one()
    engine.dispose()
    return int(counted)


def test_two_workers_of_whom_one_is_killed_come_to_the_same_tables(
    folder: Path, undisturbed: Undisturbed, tmp_path: Path, postgres_url: str
) -> None:
    place = tmp_path / "home"
    batch.receive(folder, place)
    assert "the same row by row" in batch.finish(folder, place, "move-home", "--to", postgres_url)
    shutil.copytree(folder / "prefect", tmp_path / "engine")  # its tables, which take it 20 CPU seconds to make
    with running_server(tmp_path / "engine") as server:
        workers = [start_worker(folder, place, server) for _ in range(2)]
        ends = time.monotonic() + 300
        while rows(postgres_url) < 15:
            assert all(w.poll() is None for w in workers), [w.communicate()[0] for w in workers]
            assert time.monotonic() < ends, "no progress"
            time.sleep(0.1)
        kept = rows(postgres_url)
        batch.kill(workers[0])
        cut_all_off(postgres_url, for_s=2.0)
        said, _ = workers[1].communicate(timeout=400)
        assert workers[1].returncode == 0, said
        assert rows(postgres_url) >= kept, "what was in the ledger is lost"
    batch.finish(folder, place, "run")
    assert batch.tables(folder, place) == undisturbed.tables
    assert rows(postgres_url) == undisturbed.rows, "work was done under two keys"
    assert "Nothing new" in batch.finish(folder, place, "run")


def test_a_home_is_moved_row_by_row_and_goes_on(undisturbed: Undisturbed, tmp_path: Path, postgres_url: str) -> None:
    batch.finish_plain("backup", "--to", tmp_path / "kept.tar", home=undisturbed.home)
    batch.finish_plain("restore", tmp_path / "kept.tar", home=tmp_path / "home")
    home = Home(tmp_path / "home")
    moved = move_home(home, postgres_url)
    home.database.close()
    again = Home(tmp_path / "home")
    assert (again.database.is_shared, moved.rows > 100) == (True, True)
    assert (tmp_path / "home" / "database.address").stat().st_mode & 0o777 == 0o600
    before = open_database(undisturbed.home / "kinfold.db")
    assert differing(before, again.database) == {}
    with pytest.raises(UsageError, match="already"):
        move_home(again, postgres_url)
    # A row that is not the same is told by its key; the counters of PostgreSQL go on behind the rows.
    with again.database.write() as connection:
        connection.exec_driver_sql("update scan set box = 'elsewhere' where substr(path, 1, 3) = 'B05'")
        connection.exec_driver_sql("insert into run (started_at, engines, stamps) values ('x', '{}', '{}')")
    unlike = differing(before, again.database)
    assert set(unlike) == {"scan", "run"}
    assert unlike["scan"][:2] == (12, 12)
    # And back into one file.
    batch.finish_plain("backup", "--to", tmp_path / "back.tar", home=tmp_path / "home")
    batch.finish_plain("restore", tmp_path / "back.tar", home=tmp_path / "one-file")
    back = open_database(tmp_path / "one-file" / "kinfold.db")
    assert differing(again.database, back) == {}
    for database in (before, again.database, back):
        database.close()


def test_a_home_is_not_moved_onto_rows_or_to_no_server(tmp_path: Path, postgres_url: str) -> None:
    home = Home(tmp_path / "home")
    taken = open_database(postgres_url)
    with taken.write() as connection:
        connection.exec_driver_sql("insert into run (started_at, engines, stamps) values ('x', '{}', '{}')")
    taken.close()
    with pytest.raises(UsageError, match="empty database"):
        move_home(home, postgres_url)
    with pytest.raises(UsageError, match="postgresql://"):
        move_home(home, "sqlite:///elsewhere.db")
    with pytest.raises(HomeError, match=r"127\.0\.0\.1:1"):
        move_home(home, "postgresql://kinfold@127.0.0.1:1/none")
    assert not home.database.is_shared
    assert not Home(tmp_path / "home").database.is_shared
    home.database.close()


def test_holds_on_a_server(tmp_path: Path, postgres_url: str) -> None:
    """One holder of the whole, or several of a box each; a holder that dies lets go."""
    home = Home(tmp_path / "home")
    home.move_to(postgres_url)
    home.database.close()
    one, other = Home(tmp_path / "home"), Home(tmp_path / "home")
    with one.held():
        assert other.is_held()
        for box in (None, ("C", "B1")):
            with pytest.raises(BusyError, match=rf"process {os.getpid()}"), other.held(box):
                pass
    assert not other.is_held()
    with one.held(("C", "B1")):
        with other.held(("C", "B2")), one.database.read() as connection:
            assert boxes_held(connection, [("C", "B1"), ("C", "B2"), ("C", "B3")]) == {("C", "B1"), ("C", "B2")}
        for box in (None, ("C", "B1")):
            with pytest.raises(BusyError), other.held(box):
                pass
    code = (
        "import sys, time; from pathlib import Path; from intake.services.home import Home\n"
        "with Home(Path(sys.argv[1])).held(('C', 'B1')): print('held', flush=True); time.sleep(600)"
    )
    holder = subprocess.Popen([sys.executable, "-c", code, str(home.folder)], cwd=ROOT, stdout=subprocess.PIPE)
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"held\n"
    with pytest.raises(BusyError, match=rf"process {holder.pid}"), one.held(("C", "B1")):
        pass
    holder.kill()
    holder.wait()
    holder.stdout.close()
    ends = time.monotonic() + 30
    while one.is_held():
        assert time.monotonic() < ends
        time.sleep(0.05)
    with one.held():
        pass
    one.database.close()
    other.database.close()
