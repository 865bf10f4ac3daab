"""A pool of worker processes that survives its workers: a scan that kills one twice is set aside, by name."""

import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import CancelledError, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from intake.errors import KinfoldError

T = TypeVar("T")
_WATCH_S = 0.5


class _Late(Exception):
    """The call overran its limit; the function's own TimeoutError is another thing."""


class WorkerLost(KinfoldError):
    """The call ended its worker twice, the second time with no other call beside it, or overran its limit twice."""


class Workers:
    """Plain spawned processes, each made ready once by ``prepare``. Calls may come from several threads.

    A worker that dies breaks the pool for every call in hand; each is then tried once more in a process of its own,
    so that the second death is certainly its own doing. Workers end by themselves when their parent is gone.
    """

    def __init__(self, count: int, limit_s: float, prepare: Callable[[], None]) -> None:
        self._count, self._limit_s = count, limit_s
        self._ready = partial(_begin, os.getpid(), prepare)
        self._guard = threading.Lock()
        self._pool = self._new(count)

    def call(self, function: Callable[..., T], *arguments: Any) -> T:
        """Run in a worker. Raises WorkerLost, or whatever the function raises."""
        pool = self._pool
        try:
            return self._wait(pool, function, arguments)
        except (BrokenProcessPool, CancelledError, _Late):
            self._replace(pool)
        alone = self._new(1)
        try:
            return self._wait(alone, function, arguments)
        except BrokenProcessPool as error:
            raise WorkerLost("ended its worker process twice") from error
        except _Late as error:
            raise WorkerLost(f"took longer than {self._limit_s:.0f} s, twice") from error
        finally:
            _end(alone)

    def close(self) -> None:
        """End all workers."""
        _end(self._pool)

    def _wait(self, pool: ProcessPoolExecutor, function: Callable[..., T], arguments: tuple[Any, ...]) -> T:
        try:
            future = pool.submit(function, *arguments)
        except RuntimeError as error:  # another call has just ended this pool
            raise BrokenProcessPool(str(error)) from error
        if not wait([future], self._limit_s).done:
            raise _Late
        return future.result()

    def _replace(self, broken: ProcessPoolExecutor) -> None:
        with self._guard:
            if self._pool is broken:
                self._pool = self._new(self._count)
                _end(broken)

    def _new(self, count: int) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(count, multiprocessing.get_context("spawn"), initializer=self._ready)


def _end(pool: ProcessPoolExecutor) -> None:
    processes = list((pool._processes or {}).values())  # there is no public way to end a worker that hangs before 3.14
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.kill()


def _begin(parent: int, prepare: Callable[[], None]) -> None:
    # In a group of its own, a Ctrl-C at the terminal reaches neither the worker nor a reader that it has started: only
    # the parent decides what is finished.
    os.setpgid(0, 0)
    threading.Thread(target=_leave_with, args=(parent,), daemon=True).start()
    prepare()


def _leave_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(_WATCH_S)
    os._exit(1)


def empty(folder: Path) -> None:
    """Remove what a run that was killed left in the scratch folder."""
    for path in folder.iterdir():
        if path.is_file():
            path.unlink(missing_ok=True)
