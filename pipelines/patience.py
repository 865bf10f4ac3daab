"""Waiting for what is away for a while: a database that is locked or restarted, a folder of scans that is unmounted."""

import os
import time
from collections.abc import Callable
from pathlib import Path
from threading import Event, Lock
from typing import TypeVar

from intake.errors import HomeError

T = TypeVar("T")
_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.5, 10.0


def patiently(action: Callable[[], T], limit_s: float, stop: Event) -> T:
    """What ``action`` returns; while the database refuses, it is done again for ``limit_s``. Raises the last HomeError.

    ``action`` is one transaction, so that doing it again does nothing twice.
    """
    ends, pause_s = time.monotonic() + limit_s, _FIRST_PAUSE_S
    while True:
        try:
            return action()
        except HomeError:
            if time.monotonic() + pause_s > ends or stop.wait(pause_s):
                raise
        pause_s = min(2 * pause_s, _LONGEST_PAUSE_S)


class Sources:
    """Folders of scans that may be away. One that stays away is waited for once in a run."""

    def __init__(self, limit_s: float, stop: Event, tell: Callable[[str], None]) -> None:
        self._limit_s, self._stop, self._tell = limit_s, stop, tell
        self._given_up: set[str] = set()
        self._guard = Lock()

    def wait_for(self, folder: str) -> None:
        """Return when anything lies in ``folder``, when the wait is over, or when the run is to stop."""
        with self._guard:  # the others stand behind the first that waits
            if folder in self._given_up or not _is_away(folder):
                return
            self._tell(f"{folder}: no scans are there now; waiting for it, {self._limit_s:.0f} s at most")
            ends, pause_s = time.monotonic() + self._limit_s, _FIRST_PAUSE_S
            while _is_away(folder):
                if time.monotonic() + pause_s > ends or self._stop.wait(pause_s):
                    self._given_up.add(folder)
                    self._tell(f"{folder}: is still away; its scans are left for the next run")
                    return
                pause_s = min(2 * pause_s, _LONGEST_PAUSE_S)
            self._tell(f"{folder}: is back")


def _is_away(folder: str) -> bool:
    """An unmounted folder is gone, or empty: what was received from it is not there."""
    try:
        with os.scandir(Path(folder)) as entries:
            return next(entries, None) is None
    except OSError:
        return True
