"""What a run over an unchanged archive costs, and what the desk asks most: on a store made large from a real one.

    python -m tests.bench.second_run --from HOME --work FOLDER --scans 10000

HOME is one that a run has finished (``kinfold demo``). Its ledger is written down again and again under new digests,
payloads as they are, with its pairs; files are not copied, as nothing here opens them. Wall and CPU seconds of whole
commands, each in a process of its own, then of single services.
"""

import argparse
import hashlib
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select

from intake.config.load import load_config
from intake.services import relate, views
from intake.services.home import Home
from intake.services.progress import progress
from intake.services.stamps import stamps_of
from intake.store.database import Database
from intake.store.schema import consignment, pair, run, scan, work

ROOT = Path(__file__).resolve().parents[2]
_COPIES_AT_ONCE = 50


def main() -> None:
    """Make the store, measure, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--from", type=Path, required=True, dest="source")
    ask.add_argument("--config", type=Path, default=ROOT / "config")
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--scans", type=int, default=10_000)
    told = ask.parse_args()
    told.work.mkdir(parents=True, exist_ok=True)
    config = load_config(told.config)
    stamps = stamps_of(config)
    with tempfile.TemporaryDirectory(dir=told.work) as name:
        home = Home(Path(name) / "home")
        made = grow(Home(told.source), home, told.scans)
        size = sum(p.stat().st_size for p in home.folder.glob("kinfold.db*"))
        print(f"{made:,} scans, database {size / 1e6:,.0f} MB ({size / made / 1e3:.1f} KB a scan)")
        timed("grouping anew", lambda: relate.regroup(home, config, stamps))
        timed("progress", lambda: progress(home))
        timed("what has to be scanned again", lambda: views.troubles(home))
        timed("the queue's first page", lambda: views.queue_items(home, config, 0, 25))
        for words in (["run"], ["run", "--explain"], ["progress"], ["check-home"]):
            command(told.config, home.folder, words)
        home.database.close()


def grow(source: Home, home: Home, scans: int) -> int:
    """Write ``source``'s rows into ``home`` under new digests until there are so many scans; returns how many."""
    with source.database.read() as connection:
        rows = {t: [dict(r) for r in connection.execute(select(t)).mappings()] for t in (scan, work, pair)}
        houses = [dict(r) for r in connection.execute(select(consignment)).mappings()]
        last = dict(connection.execute(select(run).order_by(run.c.id.desc())).mappings().first() or {})
    digests = {r["digest"] for r in rows[scan]}
    copies = -(-scans // len(rows[scan]))
    database: Database = home.database
    with database.write() as connection:
        connection.execute(insert(consignment), houses)
        connection.execute(insert(run), [last])
    for start in range(0, copies, _COPIES_AT_ONCE):
        with database.write() as connection:
            for n in range(start, min(copies, start + _COPIES_AT_ONCE)):
                renamed = {d: hashlib.sha256(f"{d} {n}".encode()).hexdigest() for d in digests}
                for table in (scan, work, pair):
                    some = [_again(row, renamed, n) for row in rows[table]]
                    if some:
                        connection.execute(insert(table), some)
    return copies * len(rows[scan])


def _again(row: dict[str, Any], renamed: dict[str, str], n: int) -> dict[str, Any]:
    made = {k: renamed.get(v, v) if isinstance(v, str) else v for k, v in row.items()}
    if "path" in made:
        made |= {"path": f"{n:05d}/{row['path']}", "box": f"{n:05d} {row['box']}"}
        made["path_key"] = hashlib.sha256(made["path"].encode()).hexdigest()
    if "digest_a" in made:
        if made["payload"]:
            for old, new in renamed.items():
                made["payload"] = made["payload"].replace(old, new)
        if (made["digest_a"], made["part_a"]) > (made["digest_b"], made["part_b"]):
            a, b = (made["digest_a"], made["part_a"]), (made["digest_b"], made["part_b"])
            (made["digest_a"], made["part_a"]), (made["digest_b"], made["part_b"]) = b, a
    return made


def timed(words: str, act: Callable[[], object]) -> None:
    """Run and print wall and CPU seconds."""
    wall, cpu = time.perf_counter(), time.process_time()
    act()
    print(f"{words:<32} {time.perf_counter() - wall:7.2f} s wall {time.process_time() - cpu:7.2f} s CPU", flush=True)


def command(config: Path, home: Path, words: list[str]) -> None:
    """The same of a whole command, with the most memory that any of them held."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    wall = time.perf_counter()
    line = [sys.executable, "-m", "pipelines.command", "--home", str(home), "--config", str(config), *words]
    done = subprocess.run(
        line, cwd=ROOT, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    said = (done.stdout + done.stderr).strip().split("\n")[-1][:60]
    print(
        f"kinfold {' '.join(words):<24} {time.perf_counter() - wall:7.2f} s wall {cpu:7.2f} s CPU, "
        f"at most {after.ru_maxrss / 1e3:.0f} MB so far: {said}",
        flush=True,
    )


if __name__ == "__main__":
    main()
