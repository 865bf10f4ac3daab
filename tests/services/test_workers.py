"""Workers that die, hang or lose their parent: the call is tried once more alone, the others go on."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from intake.services.workers import WorkerLost, Workers, empty
from tests.made import ROOT
from tests.services import worker_calls as calls


@pytest.fixture
def workers() -> Iterator[Workers]:
    made = Workers(2, 60.0, calls.ready)
    yield made
    made.close()


def gone(pid: int, within_s: float) -> bool:
    """Has the process ended (or is it only a name still in its parent's table) within the time?"""
    ends = time.monotonic() + within_s
    while time.monotonic() < ends:
        try:
            state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            return True
        if state == "Z":
            return True
        time.sleep(0.05)
    return False


def test_calls_return_and_raise_what_they_do(workers: Workers) -> None:
    assert workers.call(calls.double, 21) == 42
    with pytest.raises(KeyError, match="of its own"):
        workers.call(calls.fail, KeyError("of its own"))
    # These two are what a broken or late pool would raise as well: the function's own go through, untried.
    with pytest.raises(TimeoutError, match="of its own"):
        workers.call(calls.fail, TimeoutError("of its own"))
    with pytest.raises(RuntimeError, match="of its own"):
        workers.call(calls.fail, RuntimeError("of its own"))
    assert workers.call(calls.was_made_ready)


def test_a_worker_that_dies_once_is_replaced_and_the_result_kept(workers: Workers, tmp_path: Path) -> None:
    assert workers.call(calls.die_first, tmp_path / "tried", "result") == "result"
    assert workers.call(calls.double, 1) == 2


def test_a_call_that_kills_its_worker_twice_is_lost_and_others_survive(workers: Workers) -> None:
    with ThreadPoolExecutor(2) as threads:
        beside = threads.submit(workers.call, calls.slow, 1.5)
        time.sleep(0.3)
        killer = threads.submit(workers.call, calls.die)
        with pytest.raises(WorkerLost, match="twice"):
            killer.result()
        assert beside.result() == "done"
    assert workers.call(calls.double, 2) == 4


def test_a_call_that_hangs_is_lost_within_twice_its_limit_and_others_survive(tmp_path: Path) -> None:
    workers = Workers(2, 4.0, calls.ready)
    try:
        workers.call(calls.double, 1)  # the pool is up
        with ThreadPoolExecutor(5) as threads:
            started = time.monotonic()
            hanging = threads.submit(workers.call, calls.hang, tmp_path / "pid")
            beside = [threads.submit(workers.call, calls.slow, 0.2) for _ in range(4)]
            with pytest.raises(WorkerLost, match="longer than 4 s"):
                hanging.result()
            assert time.monotonic() - started < 20
            assert [b.result() for b in beside] == ["done"] * 4
        assert workers.call(calls.double, 2) == 4
        for pid in (tmp_path / "pid").read_text().split():
            assert gone(int(pid), 10)
    finally:
        workers.close()


def test_a_call_that_waits_in_line_behind_a_hanging_one_is_done(tmp_path: Path) -> None:
    workers = Workers(1, 3.0, calls.ready)
    try:
        with ThreadPoolExecutor(2) as threads:
            hanging = threads.submit(workers.call, calls.hang, tmp_path / "pid")
            time.sleep(1.5)
            assert workers.call(calls.double, 4) == 8
            with pytest.raises(WorkerLost, match="longer than 3 s"):
                hanging.result()
    finally:
        workers.close()


def test_calls_that_come_while_the_pool_is_replaced_are_done(workers: Workers, tmp_path: Path) -> None:
    def one(number: int) -> int:
        if number == 5:
            return workers.call(calls.die_first, tmp_path / str(number), number)
        return workers.call(calls.double, number) // 2

    with ThreadPoolExecutor(4) as threads:
        assert list(threads.map(one, range(15))) == list(range(15))


def test_workers_end_when_their_parent_is_killed(tmp_path: Path) -> None:
    """The parent has no time to say good-bye: a real process, killed with SIGKILL while its workers are at work."""
    parent = subprocess.Popen([sys.executable, "-m", "tests.services.worker_calls", str(tmp_path)], cwd=ROOT)
    try:
        ends = time.monotonic() + 60
        while len(pids := list(tmp_path.glob("*.pid"))) < 2 and time.monotonic() < ends:
            time.sleep(0.05)
        assert len(pids) == 2
        children = [int(p.stem) for p in pids]
        assert not any(gone(c, 0.1) for c in children)
    finally:
        os.kill(parent.pid, signal.SIGKILL)
        parent.wait()
    assert all(gone(c, 10) for c in children)


def test_scratch_is_emptied_of_files(tmp_path: Path) -> None:
    (tmp_path / "left over.tif").write_bytes(b"x")
    (tmp_path / "folder").mkdir()
    empty(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["folder"]
