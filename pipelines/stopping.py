"""Stopping when asked: the chunks in hand are finished and written, then the process ends, whatever the engine does.

A signal to the whole group also ends the engine's server, and the engine would then try for minutes to tell it of
every task. Its history is not the truth, so nothing is waited for but our own work.
"""

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Condition, Event, Thread

from intake.errors import StoppedError
from pipelines import engine


class Hands:
    """Counts the pieces of work in hand, and begins no new one once a stop was asked for."""

    def __init__(self) -> None:
        self.stop = Event()
        self._busy = 0
        self._changed = Condition()

    @contextmanager
    def at_work(self) -> Iterator[None]:
        """Round a piece of work that ends with its results written. Never returns when a stop was asked for."""
        with self._changed:
            stopping = self.stop.is_set()
            self._busy += not stopping
        if stopping:
            Event().wait()
        try:
            yield
        finally:
            with self._changed:
                self._busy -= 1
                self._changed.notify_all()

    def wait_until_idle(self) -> None:
        """Return when nothing is in hand."""
        with self._changed:
            self._changed.wait_for(lambda: not self._busy)


@contextmanager
def stoppable(end: Callable[[], None], home: Path) -> Iterator[Hands]:
    """While inside, SIGTERM and SIGINT let what is in hand finish, call ``end``, say so, and end the process with 7."""
    hands = Hands()
    # A signal may be waited for in the main thread alone; elsewhere an engine runs us, and ends us its own way.
    may_wait = threading.current_thread() is threading.main_thread()
    signals = (signal.SIGTERM, signal.SIGINT) if may_wait else ()
    before = {s: signal.signal(s, lambda *_: hands.stop.set()) for s in signals}
    Thread(target=_leave, args=(hands, end, home), daemon=True).start()
    try:
        yield hands
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _leave(hands: Hands, end: Callable[[], None], home: Path) -> None:
    hands.stop.wait()
    hands.wait_until_idle()
    end()
    engine.end_server(home)
    print("\nkinfold: stopped as asked; all finished chunks are kept. Continue with: kinfold run", file=sys.stderr)
    sys.stderr.flush()
    os._exit(StoppedError.exit_code)
