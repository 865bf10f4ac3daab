"""Work across scans in piles that several machines may share: pairs to compare, reports on what differs.

What of a pile is done is asked of the database alone; the file in which it is offered to helpers is derived.
"""

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar, Generic, Self, TypeVar

from intake.config.load import Config
from intake.imaging.permute import variants_of
from intake.model import PartKey, Stamps
from intake.services import comparing, differing, relate
from intake.services.home import Home, write_whole
from intake.services.stamps import stamps_of
from intake.services.workers import Workers
from intake.store import differences, pairs
from intake.store.codec import from_text, to_text
from intake.store.differences import Told
from intake.store.pairs import Compared

Item = TypeVar("Item")
Made = TypeVar("Made")
_FEW = 400


@dataclass(frozen=True)
class Pile(ABC, Generic[Item, Made]):
    """Like pieces of work under the same stamps, to be done so many at once."""

    name: ClassVar[str]
    stamps: Stamps
    items: tuple[Item, ...]
    at_once: int

    @property
    def chunks(self) -> range:
        """The numbers of its chunks."""
        return range(-(-len(self.items) // self.at_once))

    def chunk(self, number: int) -> tuple[Item, ...]:
        """The items of one chunk: the same on every machine."""
        return self.items[number * self.at_once : (number + 1) * self.at_once]

    def of(self, items: Sequence[Item]) -> Self:
        """The same pile with these items alone."""
        return replace(self, items=tuple(items))

    def fits(self, config: Config) -> bool:
        """Would this machine make the same of it?"""
        return self.stamps == stamps_of(config)

    @abstractmethod
    def left(self, home: Home, items: Sequence[Item]) -> list[Item]:
        """Those of the items that are not done yet."""

    @abstractmethod
    def do(self, home: Home, config: Config, workers: Workers, items: Sequence[Item]) -> list[Made]:
        """Do them in a worker. Raises WorkerLost."""

    @abstractmethod
    def record(self, home: Home, made: Sequence[Made]) -> None:
        """Write down what was done, in one transaction."""


@dataclass(frozen=True, slots=True)
class PairToCompare:
    """Two parts, and the variants to try of them as bits."""

    a: PartKey
    b: PartKey
    variants: int


@dataclass(frozen=True)
class PairPile(Pile[PairToCompare, Compared]):
    """Pairs to compare."""

    items: tuple[PairToCompare, ...]
    name = "pairs"

    def left(self, home: Home, items: Sequence[PairToCompare]) -> list[PairToCompare]:
        """Those of the items that were not compared yet as they are asked for."""
        among = {i.a.digest for i in items} if len(items) <= _FEW else None
        with home.database.read() as connection:
            tried = pairs.pairs_compared(connection, self.stamps.match, among)
        return [i for i in items if tried.get((i.a, i.b)) != i.variants]

    def do(self, home: Home, config: Config, workers: Workers, items: Sequence[PairToCompare]) -> list[Compared]:
        """Compare them in a worker. Raises WorkerLost."""
        wanted = {(i.a, i.b): variants_of(i.variants) for i in items}
        tasks = comparing.tasks_of(home, list(wanted), wanted, self.stamps)
        return workers.call(comparing.compare, tasks, config.match, config.fingerprint)

    def record(self, home: Home, made: Sequence[Compared]) -> None:
        """Write down what was done, in one transaction."""
        relate.record_compared(home, made, self.stamps)


@dataclass(frozen=True)
class ReportPile(Pile[differing.Task, Told]):
    """Reports to make on what differs, under settings that are in no stamp of a scan."""

    items: tuple[differing.Task, ...]
    settings: str
    name = "reports"

    def fits(self, config: Config) -> bool:
        """Would this machine make the same of it?"""
        return super().fits(config) and self.settings == differing.settings_of(config)

    def left(self, home: Home, items: Sequence[differing.Task]) -> list[differing.Task]:
        """Those of the items that have no report yet under their stamp."""
        with home.database.read() as connection:
            told = differences.told_pairs(connection)
        return [t for t in items if told.get((t.a.key, t.b.key)) != t.stamp]

    def do(self, _: Home, config: Config, workers: Workers, items: Sequence[differing.Task]) -> list[Told]:
        """Make them in a worker. Raises WorkerLost."""
        return workers.call(differing.tell, items, config.differ, config.signature, config.very_object)

    def record(self, home: Home, made: Sequence[Told]) -> None:
        """Write down what was done, in one transaction."""
        differing.record(home, made)


_SORTS: dict[str, type[Pile[Any, Any]]] = {sort.name: sort for sort in (PairPile, ReportPile)}


@contextmanager
def offered(home: Home, run: int, pile: Pile[Any, Any]) -> Iterator[None]:
    """While inside, helpers of this run (its number) find the pile in the home."""
    path = _path(home, run, pile.name)
    write_whole(path, to_text(pile).encode())
    try:
        yield
    finally:
        path.unlink(missing_ok=True)


def offer_of(home: Home, run: int, name: str) -> Pile[Any, Any] | None:
    """The pile of this name that a run offers; None when it is over."""
    try:
        text = _path(home, run, name).read_text("utf-8")
    except FileNotFoundError:
        return None
    return from_text(_SORTS[name], text)


def _path(home: Home, run: int, name: str) -> Path:
    assert name in _SORTS
    return home.scratch / f"pile-{run:05d}-{name}.json"
