"""One night: chunks of scans fan out over the workers; then match, group, queue, what differs. The ledger decides what
is left to do.

A task is a chunk (about a minute's work): it reads the ledger once, has its scans looked at without the database, and
writes once. Prefect carries the tasks; pixels, jobs and results never cross its borders.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Event

from prefect import flow, task
from prefect.cache_policies import NO_CACHE
from prefect.task_runners import ThreadPoolTaskRunner

from intake.config.load import Config
from intake.model import Stamps
from intake.services import process, relate
from intake.services.home import Home, now
from intake.services.process import Waiting
from intake.services.space import keep_reserve, space_for
from intake.services.stamps import settings_of
from intake.services.work import look
from intake.services.workers import WorkerLost, empty
from intake.setup import engine_versions
from intake.store import runs
from pipelines.across import differ_all, match_all
from pipelines.engine import note_server
from pipelines.night import Night
from pipelines.patience import patiently
from pipelines.shift import CallHelp, Shift, batched, workers_of
from pipelines.stopping import stoppable

ENDINGS = {
    "done": "done",
    "looked": "the box is looked at; comparing and grouping come when all boxes are",
    "stopped": "stopped as asked; all finished chunks are kept",
    "broke off": "broke off; all finished chunks are kept",
}


@dataclass(frozen=True)
class Share:
    """What a run is to do: all of it, one consignment's scans and then all that is across, or the scans of one box; and
    what calls other machines to help with what is across, where there are any."""

    code: str | None = None
    box: str | None = None
    call_help: CallHelp | None = None


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
    workers = workers_of(home, config, config_folder, count)

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
            _flow(
                Shift(home, config, stamps, workers, night, hands, space, number, share.call_help), count, todo, share
            )()
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
    def compare_all() -> None:
        match_all(shift, count)

    @task(cache_policy=NO_CACHE)
    def group_all() -> None:
        with shift.hands.at_work():
            shift.patiently(lambda: relate.regroup(shift.home, shift.config, shift.stamps))

    @task(cache_policy=NO_CACHE)
    def tell_all() -> None:
        differ_all(shift, count)

    def look_at_all(scans: Sequence[Waiting]) -> None:
        first = len(chunks)
        chunks.extend(batched(scans, shift.config.run.chunk_scans))
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
            compare_all()
            group_all()
            tell_all()

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
