"""What a run tells the person in front of it: per box, with an honest estimate, and the costs at its end."""

import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from threading import Lock

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from intake.config.run import RunRules
from pipelines.say import inert

_MEASURED_FROM = 20


@dataclass
class Night:
    """Counts of one run, shown live on a terminal and as plain lines elsewhere. Safe to call from several threads."""

    console: Console
    boxes: Counter[str] = field(default_factory=Counter)
    done: Counter[str] = field(default_factory=Counter)
    missing: list[tuple[str, str]] = field(default_factory=list)
    _lock: Lock = field(default_factory=Lock)
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

    def __enter__(self) -> "Night":
        self._bars.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bars.stop()

    def expect(self, boxes: Iterable[str]) -> None:
        """Say how many scans each box has to go."""
        self.boxes.update(boxes)
        for box in sorted(self.boxes):
            self._tasks[box] = self._bars.add_task(inert(f"box {box}")[:14], total=self.boxes[box], note="")
        if self.boxes:
            self._all = self._bars.add_task("all boxes", total=self.boxes.total(), note="measuring")

    def looked(self, box: str) -> None:
        """One scan of a box is in the ledger."""
        with self._lock:
            self.done[box] += 1
            self._bars.update(self._tasks[box], advance=1)
            self._bars.update(self._all, advance=1, note=self._estimate())
            if not self.console.is_terminal and self.done[box] == self.boxes[box]:
                self.console.print(inert(f"box {box}: {self.done[box]} scans looked at"), markup=False)

    def lost(self, path: str, why: str) -> None:
        """A scan could not be had this time."""
        with self._lock:
            self.missing.append((path, why))
            self.console.print(inert(f"{path}: {why}"), markup=False, highlight=False)

    def phase(self, words: str, total: int) -> TaskID:
        """A step across scans begins; returns a handle for ``step``."""
        return self._bars.add_task(words, total=total, note="")

    def step(self, handle: TaskID, by: int) -> None:
        """The step has come on."""
        with self._lock:
            self._bars.update(handle, advance=by)

    def _estimate(self) -> str:
        done, left = self.done.total(), self.boxes.total() - self.done.total()
        if not left:
            return ""
        if done < _MEASURED_FROM:
            return "measuring"
        minutes = (time.monotonic() - self._started) / done * left / 60
        return f"{minutes * 0.8:.0f}-{minutes * 1.3 + 1:.0f} min left"


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
