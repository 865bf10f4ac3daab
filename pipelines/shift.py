"""What the tasks of one run share, and the worker processes that they hand work to."""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from typing import TypeVar

from intake.config.load import Config
from intake.model import Stamps
from intake.services.home import Home
from intake.services.process import Waiting
from intake.services.space import Space
from intake.services.work import make_ready
from intake.services.workers import Workers
from pipelines.night import Night
from pipelines.patience import Sources, patiently
from pipelines.stopping import Hands

T = TypeVar("T")
CallHelp = Callable[[int, str], int]  # a run's number, the name of the pile that it offers: how many were called
_THREAD_SETTINGS = ("OMP_NUM_THREADS", "OMP_THREAD_LIMIT", "OPENBLAS_NUM_THREADS", "VIPS_CONCURRENCY")


@dataclass(frozen=True)
class Shift:
    """All that the tasks of one run share, in this process alone."""

    home: Home
    config: Config
    stamps: Stamps
    workers: Workers
    night: Night
    hands: Hands
    space: Space
    number: int
    call_help: CallHelp | None = None
    lost: list[Waiting] = field(default_factory=list)

    @cached_property
    def sources(self) -> Sources:
        """The folders that scans come from."""
        return Sources(self.config.run.source_patience_s, self.hands.stop, self.night.say)

    def patiently(self, action: Callable[[], T]) -> T:
        """One transaction, done again while the database refuses."""
        return patiently(action, self.config.run.database_patience_s, self.hands.stop)


def batched(items: Sequence[T], size: int) -> list[Sequence[T]]:
    """``items`` in runs of at most ``size``."""
    return [items[i : i + size] for i in range(0, len(items), size)]


def workers_of(home: Home, config: Config, config_folder: Path, count: int) -> Workers:
    """So many worker processes, as ready to give way as the settings say; this process gives way with them."""
    os.nice(config.run.niceness)
    # One thread for every library: each core has a worker of its own, which inherits these.
    os.environ |= dict.fromkeys(_THREAD_SETTINGS, "1")
    return Workers(
        count, config.run.scan_limit_s, partial(make_ready, home.folder, config_folder, config.run.memory_mb)
    )
