"""One night: chunks of scans fan out over the workers; then match, group, queue, what differs. The ledger decides what
is left to do.

A task is a chunk (about a minute's work): it reads the ledger once, has its scans looked at without the database, and
writes once. Prefect carries the tasks; pixels, jobs and results never cross its borders.
"""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from threading import Event
from typing import TypeVar

from prefect import flow, task
from prefect.cache_policies import NO_CACHE
from prefect.task_runners import ThreadPoolTaskRunner

from intake.config.load import Config
from intake.imaging.candidates import Candidate
from intake.model import PartKey, Stamps
from intake.services import comparing, differing, process, relate
from intake.services.home import Home, now
from intake.services.process import Waiting
from intake.services.searching import ask_index
from intake.services.space import Space, keep_reserve, space_for
from intake.services.stamps import settings_of
from intake.services.work import look, make_ready
from intake.services.workers import WorkerLost, Workers, empty
from intake.setup import engine_versions
from intake.store import runs
from intake.store.pairs import Pair
from pipelines.engine import note_server
from pipelines.night import Night
from pipelines.patience import Sources, patiently
from pipelines.stopping import Hands, stoppable

T = TypeVar("T")
ENDINGS = {
    "done": "done",
    "looked": "the box is looked at; comparing and grouping come when all boxes are",
    "stopped": "stopped as asked; all finished chunks are kept",
    "broke off": "broke off; all finished chunks are kept",
}
_REPORTS_A_CHUNK = 8
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
    lost: list[Waiting] = field(default_factory=list)

    @cached_property
    def sources(self) -> Sources:
        """The folders that scans come from."""
        return Sources(self.config.run.source_patience_s, self.hands.stop, self.night.say)

    def patiently(self, action: Callable[[], T]) -> T:
        """One transaction, done again while the database refuses."""
        return patiently(action, self.config.run.database_patience_s, self.hands.stop)


@dataclass(frozen=True)
class Share:
    """What a run is to do: all of it, one consignment's scans and then all that is across, or the scans of one box."""

    code: str | None = None
    box: str | None = None


def work_the_night(
    home: Home, config: Config, config_folder: Path, stamps: Stamps, share: Share, night: Night, count: int
) -> int:
    """Everything that is left to do of a share; returns the run's number.

    Asked to stop (SIGTERM, or SIGINT from the keyboard), the process finishes the chunks in hand and ends with 7.
    """
    started = now()
    with home.database.write() as connection:
        number = runs.start_run(connection, started, engine_versions(), stamps, settings_of(config))
    night.log_to(home.log(number))
    if share.box is None:  # of a box, others may be at work beside
        empty(home.scratch)
    os.nice(config.run.niceness)
    # One thread for every library: each core has a worker of its own, which inherits these.
    os.environ |= dict.fromkeys(_THREAD_SETTINGS, "1")
    ready = partial(make_ready, home.folder, config_folder, config.run.memory_mb)
    workers = Workers(count, config.run.scan_limit_s, ready)

    def end(ending: str) -> None:
        workers.close()
        night.say(ENDINGS[ending], shown=False)
        patiently(partial(_note_end, home, number, ending), config.run.database_patience_s, Event())

    ending = "broke off"
    try:
        with stoppable(partial(end, "stopped"), home.folder) as hands:
            todo = process.waiting(home, stamps, share.code, share.box)
            space = space_for(home, len(todo), config.run)
            night.say(space.words)
            _flow(Shift(home, config, stamps, workers, night, hands, space), count, todo, share)()
        ending = "done" if share.box is None else "looked"
    finally:
        end(ending)
    return number


def _note_end(home: Home, number: int, ending: str) -> None:
    with home.database.write() as connection:
        runs.end_run(connection, number, now(), ending, "")


def _flow(shift: Shift, count: int, todo: Sequence[Waiting], share: Share) -> Callable[[], None]:
    chunks: list[Sequence[Waiting]] = []

    @task(cache_policy=NO_CACHE, task_run_name="look-{number}")
    def look_chunk(number: int) -> None:
        _look(shift, chunks[number])

    @task(cache_policy=NO_CACHE)
    def match_all() -> None:
        _match(shift, count)

    @task(cache_policy=NO_CACHE)
    def group_all() -> None:
        with shift.hands.at_work():
            shift.patiently(lambda: relate.regroup(shift.home, shift.config, shift.stamps))

    @task(cache_policy=NO_CACHE)
    def differ_all() -> None:
        _differ(shift, count)

    def look_at_all(scans: Sequence[Waiting]) -> None:
        first = len(chunks)
        chunks.extend(_batched(scans, shift.config.run.chunk_scans))
        for future in look_chunk.map(range(first, len(chunks))):
            future.result()

    @flow(name="kinfold-run", task_runner=ThreadPoolTaskRunner(max_workers=count), validate_parameters=False)
    def night_flow() -> None:
        note_server(shift.home.folder)
        shift.night.expect(w.scan.box for w in todo)
        look_at_all(todo)
        # Once more for what could not be had: its folder may have been away for a while.
        again, shift.lost[:] = list(shift.lost), []
        look_at_all(again)
        if share.box is None:
            match_all()
            group_all()
            differ_all()

    return night_flow


def _look(shift: Shift, chunk: Sequence[Waiting]) -> None:
    with shift.hands.at_work():
        _look_in_hand(shift, chunk)


def _look_in_hand(shift: Shift, chunk: Sequence[Waiting]) -> None:
    keep_reserve(shift.home, shift.night.left, shift.config.run, shift.space.each)
    made = []
    jobs = shift.patiently(lambda: process.jobs_of(shift.home, chunk, shift.stamps))
    for waiting, job in zip(chunk, jobs, strict=True):
        shift.sources.wait_for(waiting.folder)
        try:
            looked = shift.workers.call(look, job)
        except WorkerLost as error:
            looked = process.set_aside(job, str(error))
        made.append((waiting, looked))
    shift.patiently(lambda: process.record(shift.home, (looked for _, looked in made)))
    for waiting, looked in made:
        if looked.missing:
            shift.lost.append(waiting)
            shift.night.lost(waiting.scan.path, looked.missing)
        else:
            shift.night.looked(waiting.scan.box, waiting.scan.path, process.findings_of(looked))


def _match(shift: Shift, count: int) -> None:
    home, config, stamps = shift.home, shift.config, shift.stamps
    keys, index = relate.to_compare(home, stamps, config)
    bar = shift.night.phase("looking up", len(keys))

    def ask(chunk: Sequence[PartKey]) -> list[tuple[PartKey, list[Candidate]]]:
        with shift.hands.at_work():
            stamp = stamps.stages["fingerprint"]
            found = shift.workers.call(ask_index, chunk, index, home.folder, stamp, config.match.candidates)
            shift.night.step(bar, len(chunk))
            return found

    with ThreadPoolExecutor(count) as threads:
        asked = [one for found in threads.map(ask, _batched(keys, config.run.chunk_scans)) for one in found]
    wanted = relate.pairs_of(asked)
    _compare(shift, count, wanted)
    wanted |= relate.pairs_through_mates(home, wanted, stamps, config)
    _compare(shift, count, wanted)
    relate.drop_others(home, wanted, stamps)


def _compare(shift: Shift, count: int, wanted: relate.Wanted) -> None:
    home, config, stamps = shift.home, shift.config, shift.stamps
    todo = relate.uncompared(home, wanted, stamps)
    if not todo:
        return
    bar = shift.night.phase("matching", len(todo))

    def compare(pairs: Sequence[Pair]) -> None:
        with shift.hands.at_work():
            tasks = comparing.tasks_of(home, pairs, wanted, stamps)
            compared = shift.workers.call(comparing.compare, tasks, config.match, config.fingerprint)
            shift.patiently(lambda: relate.record_compared(home, compared, stamps))
            shift.night.step(bar, len(pairs))

    with ThreadPoolExecutor(count) as threads:
        for _ in threads.map(compare, _batched(todo, config.run.pair_chunk)):
            pass


def _differ(shift: Shift, count: int) -> None:
    home, config, stamps = shift.home, shift.config, shift.stamps
    todo = differing.tasks_left(home, config, stamps)
    bar = shift.night.phase("what differs", len(todo)) if todo else None

    def tell(tasks: Sequence[differing.Task]) -> None:
        with shift.hands.at_work():
            told = shift.workers.call(differing.tell, tasks, config.differ, config.signature, config.very_object)
            shift.patiently(lambda: differing.record(home, told))
            if bar is not None:
                shift.night.step(bar, len(tasks))

    with ThreadPoolExecutor(count) as threads:
        for _ in threads.map(tell, _batched(todo, _REPORTS_A_CHUNK)):
            pass
    with shift.hands.at_work():
        shift.patiently(lambda: differing.note_in_queue(home, config))


def _batched(items: Sequence[T], size: int) -> list[Sequence[T]]:
    """``items`` in runs of at most ``size``."""
    return [items[i : i + size] for i in range(0, len(items), size)]
