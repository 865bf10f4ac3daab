"""Two workers on a PostgreSQL server, handed boxes by a Prefect server, beside one run on SQLite: the whole chain.

    python -m tests.bench.machines --work FOLDER [--kill] [--scans 64]

The batch of 12 scans with recorded readings, in which most of the time is the starting of processes; with ``--scans``
so many painted ones, in four boxes, read in earnest. Both clocks begin when a schedule would have the night begin.
``--kill``: one worker and all below it is killed in mid-work; its box is handed out again. Prints wall and CPU seconds
of both, and fails where the tables are not the same. On one machine, so that the servers share its cores.
"""

import argparse
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path

import sqlalchemy

from sample_batch.paint import main as paint
from tests.bench.night import Watch
from tests.pipelines import batch
from tests.pipelines.havoc import descendants, end
from tests.pipelines.prefect_server import running_server
from tests.postgres import running_postgres

_SEED, _BOXES = 7301, 4
_EACH_S = 1.0  # to watch takes time too


def main() -> None:
    """Do it and print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--kill", action="store_true")
    ask.add_argument("--scans", type=int)
    told = ask.parse_args()
    told.work.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=told.work) as name:
        folder = painted(told.work, Path(name), told.scans) if told.scans else batch.record_readings(Path(name))
        expected, rows = _alone(folder, Path(name) / "alone")
        with running_postgres() as address, running_server(Path(name) / "engine") as server:
            database = address.rpartition("/")[0] + "/bench"
            _ask(address, "create database bench")
            home = Path(name) / "home"
            batch.receive(folder, home)
            batch.finish(folder, home, "move-home", "--to", database)
            begins = datetime.now().astimezone().replace(second=0, microsecond=0) + timedelta(minutes=2)
            minutes = ",".join(str((begins.minute + more) % 60) for more in range(0, 60, 5))
            print(batch.finish(folder, home, "deploy", "--server", server, "--when", f"{minutes} * * * *").strip())
            _together(folder, home, server, database, begins.timestamp(), told.kill)
            made = batch.tables(folder, home)
            unlike = [t for t in expected if made[t] != expected[t]]
            count = _ask(database, "select (select count(*) from work) + (select count(*) from pair)")
            print(f"tables that differ: {', '.join(unlike) or 'none'}; {count} rows in the ledger, {rows} alone")
            _ask(database, "select pg_terminate_backend(pid) from pg_stat_activity where pid <> pg_backend_pid()")
            if unlike or count != rows:
                raise SystemExit(1)


def painted(work: Path, folder: Path, count: int) -> Path:
    """A batch of about so many scans in four boxes, and a config folder as it is; what is painted stays in ``work``."""
    at = work / f"painted-{count}"
    if not at.exists():
        paint(["--scans", str(count), "--seed", str(_SEED), "--to", str(at)])
    for path in sorted(p for p in (at / "scans").rglob("*") if p.is_file()):
        number = re.search(r"_(\d{5})_", path.name)
        assert number
        box = f"B{int(number[1]) % _BOXES + 1:02}"
        to = folder / "batch/scans" / box / re.sub(r"_B\d\d_", f"_{box}_", path.name)
        to.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, to)
    shutil.copytree(batch.ROOT / "config", folder / "config")
    run = folder / "config" / "run.toml"  # each of the two workers has one process, as the one that is alone has
    run.write_text(re.sub(r"^workers = \d+", "workers = 1", run.read_text("utf-8"), flags=re.M), "utf-8")
    return folder


def _alone(folder: Path, home: Path) -> tuple[dict[str, str], int]:
    batch.receive(folder, home)
    began = time.monotonic()
    run = batch.start(folder, home, "run", "--workers", "1")
    watch = Watch(run.pid, _EACH_S)
    said, _ = run.communicate()
    watch.end()
    assert run.returncode == 0, said
    print(f"alone, SQLite, one worker: {time.monotonic() - began:.0f} s wall, {sum(watch.cpu_s.values()):.0f} CPU-s")
    return batch.tables(folder, home), batch.progress(home)


def _together(folder: Path, home: Path, server: str, database: str, began: float, kills: bool) -> None:
    """``began``: when the schedule has its first night begin, by the clock."""
    log = (home / "logs" / "workers.log").open("w")
    words = ("worker", "--server", server)
    workers = [
        subprocess.Popen(
            batch.kinfold(folder, home, *words, *more),
            cwd=batch.ROOT, stdout=log, stderr=log, start_new_session=True,
            env=os.environ | {"PYTHONPATH": str(batch.ROOT)},
        )
        for more in (("--hand-out",), (), ())
    ]  # fmt: skip
    watches = [Watch(w.pid, _EACH_S) for w in workers]
    try:
        ends = time.monotonic() + 1800
        while not _ask(database, "select count(*) from run where ending = 'done'"):  # the one that compares and groups
            assert time.monotonic() < ends, Path(log.name).read_text()[-3000:]
            if kills and _ask(database, "select count(*) from work") > 15:
                kills = False
                for pid in [workers[1].pid, *descendants(workers[1].pid)]:
                    end(pid, signal.SIGKILL)
                print(f"one worker and all below it killed after {time.time() - began:.0f} s", flush=True)
            time.sleep(0.5)
        wall, spent = time.time() - began, sum(sum(w.cpu_s.values()) for w in watches)
        print(f"together, PostgreSQL, two workers: {wall:.0f} s wall, {spent:.0f} CPU-s", flush=True)
    finally:
        for watch in watches:
            watch.end()
        for worker in workers:
            for pid in [worker.pid, *descendants(worker.pid)]:
                end(pid, signal.SIGKILL)
            worker.wait()
        log.close()


def _ask(address: str, words: str) -> int:
    engine = sqlalchemy.create_engine(address, isolation_level="AUTOCOMMIT")
    try:
        with engine.connect() as connection:
            result = connection.exec_driver_sql(words)
            return int(result.scalar_one()) if "count(" in words else 0
    finally:
        engine.dispose()


if __name__ == "__main__":
    sys.exit(main())
