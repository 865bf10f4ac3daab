"""What workers are asked to do in the tests: importable, so that a spawned process finds it.

As a program (with a folder): a parent with two workers at work, which write down their numbers there.
"""

import os
import signal
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NoReturn

from intake.services.workers import Workers

_made_ready = False


def ready() -> None:
    """Prepare a worker."""
    global _made_ready
    _made_ready = True


def was_made_ready() -> bool:
    """Was this worker prepared?"""
    return _made_ready


def double(number: int) -> int:
    """Twice the number."""
    return 2 * number


def fail(error: Exception) -> NoReturn:
    """Raise it."""
    raise error


def die() -> None:
    """End this process at once, as the system does when memory runs out."""
    os.kill(os.getpid(), signal.SIGKILL)


def die_first(tried: Path, result: str) -> str:
    """Die the first time, return the second."""
    if not tried.exists():
        tried.touch()
        die()
    return result


def slow(seconds: float) -> str:
    """Take a while."""
    time.sleep(seconds)
    return "done"


def hang(note: Path) -> None:
    """Write down the process's number, then never return."""
    with note.open("a") as file:
        file.write(f"{os.getpid()}\n")
    time.sleep(600)


def work_here(folder: Path) -> None:
    """Write down the process's number as a file's name, then be busy."""
    (folder / f"{os.getpid()}.pid").touch()
    time.sleep(600)


def _main(arguments: list[str]) -> Any:
    workers = Workers(2, 600.0, ready)
    with ThreadPoolExecutor(2) as threads:
        for _ in range(2):
            threads.submit(workers.call, work_here, Path(arguments[0]))


if __name__ == "__main__":
    _main(sys.argv[1:])
