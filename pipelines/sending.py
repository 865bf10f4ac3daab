"""While the desk is open: what waits for another program is sent beside it."""

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from intake.services.home import Home
from intake.services.webhooks import Receiver, keep_sending, words_waiting


@contextmanager
def sending(home: Home, to: Receiver | None) -> Iterator[None]:
    """Send, in a thread of its own, while the block runs; nothing where nobody is told."""
    if to is None:
        yield
        return
    if left := words_waiting(home):
        _say(f"{left} {'word waits' if left == 1 else 'words wait'} to be handed over.")
    done = threading.Event()
    sender = threading.Thread(target=keep_sending, args=(home, to, _say, done), name="sending", daemon=True)
    sender.start()
    try:
        yield
    finally:
        done.set()


def _say(words: str) -> None:
    print(f"kinfold: {words}", file=sys.stderr, flush=True)
