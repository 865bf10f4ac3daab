"""What a run tells the person in front of it: per box, with an honest estimate, and the costs at its end."""

import os
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock
from typing import TextIO

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from intake.config.run import RunRules
from intake.model import Finding
from intake.services.home import now
from pipelines.say import inert

_MEASURED_FROM = 20


class Screen(Console):
    """Where a run is shown. When its reader has gone (``kinfold run | head``) it is silent: the run goes on."""

    def on_broken_pipe(self) -> None:
        """Instead of ending the process, as rich would."""
        self.quiet = True
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@dataclass
class Night:
    """Counts of one run, shown live on a terminal and as plain lines elsewhere. Safe to call from several threads."""

    console: Console
    boxes: Counter[str] = field(default_factory=Counter)
    done: Counter[str] = field(default_factory=Counter)
    missing: dict[str, str] = field(default_factory=dict)
    _lock: RLock = field(default_factory=RLock)
    _started: float = field(default_factory=time.monotonic)

    def __post_init__(self) -> None:
        self._bars = Progress(
            TextColumn("{task.description:<14}", markup=False),
            BarColumn(40),
            MofNCompleteColumn(),
            TextColumn("{task.fields[note]}"),
            TimeElapsedColumn(),
            console=self.console,
        )
        self._tasks: dict[str, TaskID] = {}

        self._log: TextIO | None = None

    def __enter__(self) -> "Night":
        self._bars.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bars.stop()

    def close(self) -> None:
        """Nothing more is said."""
        if self._log:
            self._log.close()

    @property
    def left(self) -> int:
        """Scans that are not in the ledger yet."""
        return self.boxes.total() - self.done.total()

    def log_to(self, path: Path) -> None:
        """Write down all that is said, with the time, in a plain file for our eyes alone."""
        self._log = open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), "a", encoding="utf-8")  # noqa: PTH123, SIM115

    def say(self, words: str, shown: bool = True) -> None:
        """One line into the log; ``shown``: on the screen as well."""
        if shown:
            self.console.print(inert(words), markup=False, highlight=False, soft_wrap=True)
        if self._log and not self._log.closed:
            self._log.writelines(f"{now()} {inert(line)}\n" for line in words.split("\n"))
            self._log.flush()

    def expect(self, boxes: Iterable[str]) -> None:
        """Say how many scans each box has to go."""
        self.boxes.update(boxes)
        for box in sorted(self.boxes):
            self._tasks[box] = self._bars.add_task(inert(f"box {box}")[:14], total=self.boxes[box], note="")
        if self.boxes:
            self._all = self._bars.add_task("all boxes", total=self.boxes.total(), note="measuring")

    def looked(self, box: str, path: str, found: Iterable[Finding]) -> None:
        """One scan of a box is in the ledger: what was found on it is said as it comes, failures on the screen too."""
        with self._lock:
            self.missing.pop(path, None)
            for severity, message in dict.fromkeys((f.severity, f.message) for f in found):
                if severity != "note":
                    self.say(f"{path}: {message}", shown=severity == "failure")
            self.done[box] += 1
            self.say(f"box {box}: {path}: looked at", shown=False)
            self._bars.update(self._tasks[box], advance=1)
            self._bars.update(self._all, advance=1, note=self._estimate())
            if self.done[box] == self.boxes[box]:
                self.say(f"box {box}: {self.done[box]} scans looked at", shown=not self.console.is_terminal)

    def lost(self, path: str, why: str) -> None:
        """A scan could not be had this time."""
        with self._lock:
            if path not in self.missing:
                self.say(f"{path}: {why}")
            self.missing[path] = why

    def phase(self, words: str, total: int) -> TaskID:
        """A step across scans begins; returns a handle for ``step``."""
        self.say(f"{words}: {total:,}", shown=False)
        return self._bars.add_task(words, total=total, note="")

    def step(self, handle: TaskID, by: int) -> None:
        """The step has come on."""
        with self._lock:
            self._bars.update(handle, advance=by)

    def reached(self, handle: TaskID, done: int) -> None:
        """So much of the step is done, by whoever."""
        with self._lock:
            self._bars.update(handle, completed=done)

    def _estimate(self) -> str:
        done, left = self.done.total(), self.left
        if not left:
            return ""
        if done < _MEASURED_FROM:
            return "measuring"
        minutes = (time.monotonic() - self._started) / done * left / 60
        return f"{minutes * 0.8:.0f}-{minutes * 1.3 + 1:.0f} min left"


# The stages of one scan that are reading; all others are looking.
READING = frozenset({"read", "barcode", "parse"})


def cost_lines(costs: dict[str, tuple[int, float]], scans: int, rules: RunRules) -> list[str]:
    """CPU seconds per scan and stage, beside the night's budget. ``costs``: group -> (entries, CPU seconds)."""
    lines = ["CPU seconds a scan in this home, beside the budget of a night:"]
    for group, budget in rules.budget_cpu_s.items():
        if group in costs:
            _, total = costs[group]
            lines.append(f"  {group:<12} {total / max(scans, 1):6.2f}   of {budget:.1f}")
    whole = sum(total for _, total in costs.values()) / max(scans, 1)
    lines.append(f"  {'in all':<12} {whole:6.2f}   of 7.2 (10,000 scans, 10 hours, 2 cores)")
    return lines
