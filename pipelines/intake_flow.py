"""One night: chunks of scans fan out over the workers; then match, group, queue, what differs. The ledger decides what
is left to do.

A task is a chunk (about a minute's work): it reads the ledger once, has its scans looked at without the database, and
writes once. Prefect carries the tasks; pixels, jobs and results never cross its borders.
"""

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from prefect import flow, task
from prefect.cache_policies import NO_CACHE
from prefect.task_runners import ThreadPoolTaskRunner

from intake.config.load import Config
from intake.imaging.candidates import Candidate
from intake.model import PartKey, Stamps
from intake.services import differing, process, relate
from intake.services.home import Home, now
from intake.services.process import Waiting
from intake.services.searching import ask_index
from intake.services.work import look, make_ready
from intake.services.workers import WorkerLost, Workers, empty
from intake.setup import engine_versions
from intake.store import runs
from intake.store.pairs import Pair
from pipelines.engine import note_server
from pipelines.night import Night
from pipelines.stopping import Hands, stoppable

T = TypeVar("T")
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


def work_the_night(
    home: Home, config: Config, config_folder: Path, stamps: Stamps, code: str | None, night: Night, count: int
) -> None:
    """Everything that is left to do for one consignment, or for all.

    Asked to stop (SIGTERM, or SIGINT from the keyboard), the process finishes the chunks in hand and ends with 7.
    """
    started = now()
    with home.database.write() as connection:
        number = runs.start_run(connection, started, engine_versions(), stamps)
    empty(home.scratch)
    os.nice(config.run.niceness)
    # One thread for every library: each core has a worker of its own, which inherits these.
    os.environ |= dict.fromkeys(_THREAD_SETTINGS, "1")
    workers = Workers(count, config.run.scan_limit_s, partial(make_ready, home.folder, config_folder))

    def end(ending: str) -> None:
        workers.close()
        with home.database.write() as connection:
            runs.end_run(connection, number, now(), ending, "")

    ending = "broke off"
    try:
        with stoppable(partial(end, "stopped"), home.folder) as hands:
            _flow(Shift(home, config, stamps, workers, night, hands), count)(code)
        ending = "done"
    finally:
        end(ending)


def _flow(shift: Shift, count: int) -> Callable[[str | None], None]:
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
            relate.regroup(shift.home, shift.config, shift.stamps)

    @task(cache_policy=NO_CACHE)
    def differ_all() -> None:
        _differ(shift, count)

    @flow(name="kinfold-night", task_runner=ThreadPoolTaskRunner(max_workers=count), validate_parameters=False)
    def night_flow(code: str | None) -> None:
        note_server(shift.home.folder)
        todo = process.waiting(shift.home, shift.stamps, code)
        shift.night.expect(w.scan.box for w in todo)
        chunks.extend(_batched(todo, shift.config.run.chunk_scans))
        for future in look_chunk.map(range(len(chunks))):
            future.result()
        match_all()
        group_all()
        differ_all()

    return night_flow


def _look(shift: Shift, chunk: Sequence[Waiting]) -> None:
    with shift.hands.at_work():
        _look_in_hand(shift, chunk)


def _look_in_hand(shift: Shift, chunk: Sequence[Waiting]) -> None:
    made = []
    for waiting, job in zip(chunk, process.jobs_of(shift.home, chunk, shift.stamps), strict=True):
        try:
            looked = shift.workers.call(look, job)
        except WorkerLost as error:
            looked = process.set_aside(job, str(error))
        if looked.missing:
            shift.night.lost(waiting.scan.path, looked.missing)
        made.append((waiting, looked))
    process.record(shift.home, (looked for _, looked in made))
    for waiting, _ in made:
        shift.night.looked(waiting.scan.box)


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
            compared = shift.workers.call(relate.compare, relate.tasks_of(home, pairs, wanted, stamps), config.match)
            relate.record_compared(home, compared, stamps)
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
            differing.record(home, shift.workers.call(differing.tell, tasks, config.differ))
            if bar is not None:
                shift.night.step(bar, len(tasks))

    with ThreadPoolExecutor(count) as threads:
        for _ in threads.map(tell, _batched(todo, _REPORTS_A_CHUNK)):
            pass
    with shift.hands.at_work():
        differing.note_in_queue(home, config)


def _batched(items: Sequence[T], size: int) -> list[Sequence[T]]:
    """``items`` in runs of at most ``size``."""
    return [items[i : i + size] for i in range(0, len(items), size)]
