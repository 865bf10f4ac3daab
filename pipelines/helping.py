"""Work across scans shared by several machines: one run offers a pile, its helpers claim chunk after chunk.

Claims are the database's locks and end with whoever held them; what is done is asked of the ledger. So a helper may die
at any time, and what nobody did is done by the run itself.
"""

import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event
from typing import Any, TypeVar

from intake.config.load import load_config
from intake.errors import KinfoldError
from intake.services.home import Home
from intake.services.piles import Item, Made, Pile, offer_of, offered
from intake.store import holds, runs
from pipelines.patience import patiently
from pipelines.shift import Shift, workers_of

T = TypeVar("T")
R = TypeVar("R")
_LOOK_ROUND_S, _COUNT_EACH_S = 1.0, 10.0
_COMING_S = 120.0  # a helper that was called has begun after this, or never will


def for_each(items: Iterable[T], do: Callable[[T], R], count: int) -> list[R]:
    """``do`` each, so many at a time. Raises what the first of them raises."""
    with ThreadPoolExecutor(count) as threads:
        return list(threads.map(do, items))


def share_out(
    shift: Shift,
    count: int,
    pile: Pile[Item, Made],
    do: Callable[[Sequence[Item]], None],
    reached: Callable[[int], None],
) -> None:
    """Call helpers and wait while any are at work; do what they leave. ``reached`` is told how many items are done."""
    home, key = shift.home, _key(shift.number, pile.name)
    with offered(home, shift.number, pile), holds.claims(home.database, key, helps=False) as claims:
        coming_until = time.monotonic() + (_COMING_S if _call(shift, pile.name) else 0.0)
        counted, left = time.monotonic(), list(pile.items)
        while left:
            with shift.hands.at_work():
                helped = shift.patiently(lambda: _are_helped(home, key))
            if helped:
                coming_until = 0.0
            is_waiting = helped or time.monotonic() < coming_until
            if is_waiting:
                shift.hands.stop.wait(_LOOK_ROUND_S)
            if is_waiting and time.monotonic() < counted + _COUNT_EACH_S:
                continue
            left = shift.patiently(lambda: pile.left(home, pile.items))
            counted = time.monotonic()
            reached(len(pile.items) - len(left))
            if left and not is_waiting:
                for_each(pile.chunks, lambda number: _claim(home, pile, claims, number, do), count)


def help_with(home: Home, config_folder: Path, run: int, name: str, start: float) -> str:
    """Do chunks of the pile that a run offers until nothing is left; returns in a word what came of it.

    ``start``: where in the pile to begin, as a share of it, so that helpers seldom ask for the same chunk.

    Raises KinfoldError where this machine has other settings, WorkerLost, HomeError when the database stays away.
    """
    pile, config = offer_of(home, run, name), load_config(config_folder)
    if pile is None:
        return "over before it began"
    if not pile.fits(config):
        raise KinfoldError("this machine has another version or other settings than the one that called for help.")
    workers = workers_of(home, config, config_folder, config.run.workers)

    def do(items: Sequence[Any]) -> None:
        made = pile.do(home, config, workers, items)
        patiently(lambda: _record(home, pile, run, made), config.run.database_patience_s, Event())

    first = int(start * len(pile.chunks))
    numbers = [*pile.chunks[first:], *pile.chunks[:first]]
    try:
        with holds.claims(home.database, _key(run, name), helps=True) as claims:
            for_each(numbers, lambda number: _claim(home, pile, claims, number, do), config.run.workers)
    finally:
        workers.close()
    return "helped"


def _call(shift: Shift, name: str) -> int:
    """How many helpers were called: a server that is away costs a run nothing but its helpers."""
    assert shift.call_help is not None
    try:
        return shift.call_help(shift.number, name)
    except Exception as error:  # whatever the engine's client raises
        shift.night.say(f"no help with {name}: the engine's server refuses ({type(error).__name__}: {error})")
        return 0


def _key(run: int, name: str) -> str:
    return f"{run}/{name}"


def _are_helped(home: Home, key: str) -> bool:
    with home.database.read() as connection:
        return holds.helpers(connection, key) > 0


def _claim(
    home: Home, pile: Pile[Item, Made], claims: holds.Claims, number: int, do: Callable[[Sequence[Item]], None]
) -> None:
    """Do what is left of a chunk, unless somebody else has it."""
    with claims.claimed(number) as mine:
        if mine and (left := pile.left(home, pile.chunk(number))):
            do(left)


def _record(home: Home, pile: Pile[Any, Made], run: int, made: Sequence[Made]) -> None:
    """Write down what was done, unless the run is over: another may have begun, which asks for other things."""
    with home.database.read() as connection:
        if not runs.is_at_work(connection, run):
            raise KinfoldError("the run that called for help has ended.")
    pile.record(home, made)
