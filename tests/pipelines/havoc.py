"""Harm done to a run at random moments: kills of the parent, its group or one worker, SIGTERM, and power cuts.

A power cut is a copy of the home while every process of the run stands still: what a disk would hold. Each copy must
open, be whole, and go on to the same tables.
"""

import os
import random
import shutil
import signal
import subprocess
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from tests.pipelines import batch

HARMS = ("parent", "group", "worker", "stop", "power cut")


@dataclass
class Havoc:
    """What was done, and what a kill ever lost. ``repeated``: rows of the ledger that a kill cost, at most."""

    folder: Path
    home: Path
    rows: int
    chance: random.Random
    done: Counter[str] = field(default_factory=Counter)
    copies: list[Path] = field(default_factory=list)
    process: "subprocess.Popen[str] | None" = None

    def round(self, harms: list[str]) -> None:
        """Receive the batch, do these harms to the runs over it, and let the last run come to its end."""
        batch.receive(self.folder, self.home)
        for number, harm in enumerate(harms):
            if not self._come_to(self._target(len(harms) - number)):
                break
            before = batch.progress(self.home)
            getattr(self, f"_{harm.replace(' ', '_')}")()
            self.done[harm] += 1
            assert batch.progress(self.home) >= before, "what was in the ledger is lost"
        if self.process:
            said, _ = self.process.communicate(timeout=900)
            assert self.process.returncode == 0, said
            self.process = None
        batch.finish(self.folder, self.home, "run")

    def _target(self, harms_left: int) -> int:
        """A number of rows, so that the harms fall over the whole of the run."""
        before = batch.progress(self.home)
        return before + self.chance.randint(0, max(1, (self.rows - before) // (harms_left + 1)))

    def _come_to(self, rows: int) -> bool:
        """Have a run at work that has come so far; False where one came to its end before."""
        if self.process is None:
            self.process = batch.start(self.folder, self.home, "run")
        ends = time.monotonic() + 600
        while batch.progress(self.home) < rows:
            if self.process.poll() is not None:
                said, _ = self.process.communicate()
                assert self.process.returncode == 0, said
                self.process = None
                return False
            assert time.monotonic() < ends, "no progress"
            time.sleep(0.02)
        time.sleep(self.chance.uniform(0, 0.7))  # not always just behind a write
        return True

    def _parent(self) -> None:
        assert self.process
        batch.kill(self.process, group=False)
        self.process = None

    def _group(self) -> None:
        assert self.process
        batch.kill(self.process)
        self.process = None

    def _worker(self) -> None:
        assert self.process
        workers = [pid for pid in descendants(self.process.pid) if b"spawn_main" in command_of(pid)]
        if workers:  # none yet, or none any more
            end(self.chance.choice(workers), signal.SIGKILL)

    def _stop(self) -> None:
        assert self.process
        self.process.terminate()
        said, _ = self.process.communicate(timeout=300)
        assert self.process.returncode in (0, 7), said  # 0: it was at its end already
        self.process = None

    def _power_cut(self) -> None:
        assert self.process
        everyone = [self.process.pid, *descendants(self.process.pid)]
        for pid in everyone:
            end(pid, signal.SIGSTOP)
        copy = self.home.with_name(f"{self.home.name}-copy-{len(self.copies)}")
        shutil.copytree(self.home, copy, ignore=shutil.ignore_patterns("server.pid"))
        for pid in everyone:
            end(pid, signal.SIGCONT)
        self.copies.append(copy)


def descendants(pid: int) -> list[int]:
    """All processes below this one, by /proc."""
    below: dict[int, list[int]] = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((place / "stat").read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
        below.setdefault(parent, []).append(int(place.name))
    found, waiting = [], [pid]
    while waiting:
        children = below.get(waiting.pop(), [])
        found += children
        waiting += children
    return found


def command_of(pid: int) -> bytes:
    """Its command line; nothing where it is gone."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""


def end(pid: int, number: int) -> None:
    """Send a signal, if the process is still there."""
    try:
        os.kill(pid, number)
    except ProcessLookupError:
        return


def check_ends(folder: Path, home: Path, rows: int, expected: dict[str, str]) -> None:
    """Continue a home to its end: it is whole, its tables are those expected, and nothing was done under two keys."""
    said = batch.finish(folder, home, "check-home")
    assert "Nothing missing, nothing altered" in said
    batch.finish(folder, home, "run")
    assert batch.tables(folder, home) == expected
    assert batch.progress(home) == rows, "work was done under two keys"
    assert "Nothing missing, nothing altered" in batch.finish(folder, home, "check-home")
