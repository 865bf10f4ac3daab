"""What workers on several machines run: one box, the handing out of boxes, and help with what is across them.

What is left comes from the ledger, who is at work from the locks in the database; Prefect's history only tells which
box was queued or tried lately. A box whose run crashed, or whose machine went away, has work left and no holder: it is
queued again. When no box is left, all is compared and grouped, with the help of all workers that are there.
"""

import os
from collections import defaultdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from prefect import flow
from prefect.client.orchestration import get_client
from prefect.client.schemas.filters import (
    FlowRunFilter,
    FlowRunFilterDeploymentId,
    FlowRunFilterExpectedStartTime,
)
from prefect.client.schemas.objects import FlowRun, StateType, WorkerStatus

from intake.config.load import load_config
from intake.errors import BusyError
from intake.services import process, relate
from intake.services.home import Home
from intake.services.stamps import stamps_of
from intake.store.holds import boxes_held, holders
from pipelines.helping import help_with
from pipelines.machines import BOXES
from pipelines.run import run_night

BOX, HELP, NIGHT = "kinfold-box/box", "kinfold-help/help", "kinfold-night/night"
Box = tuple[str, str]  # consignment, box
_LATELY = timedelta(hours=12)
_SOON = timedelta(minutes=5)  # a run that was handed to a machine has begun after this, or never will
_MOST_TRIES = 4


@flow(name="kinfold-box", validate_parameters=False)
def look_at_box(consignment: str, box: str) -> str:
    """Look at what is left of one box; returns in a word what came of it."""
    try:
        run_night(_home(), _config(), consignment, box=box)
    except BusyError as error:
        return str(error)
    if not process.waiting(_home(), stamps_of(load_config(_config())), None):
        _queue(NIGHT, {})  # no box is left: comparing need not wait for the schedule
    return "looked at"


@flow(name="kinfold-help", validate_parameters=False)
def help_across(run: int, pile: str, start: float) -> str:
    """Help a run with what it does across all scans; returns in a word what came of it."""
    return help_with(_home(), _config(), run, pile, start)


@flow(name="kinfold-night", validate_parameters=False)
def hand_out() -> str:
    """Queue the boxes that have work left; when there are none, compare and group. Returns in words what was done."""
    home, config = _home(), load_config(_config())
    stamps = stamps_of(config)
    left = list(dict.fromkeys((w.scan.consignment, w.scan.box) for w in process.waiting(home, stamps, None)))
    with home.database.read() as connection:
        held, busy = boxes_held(connection, left), bool(holders(connection))
    runs = _runs_lately() if left else {}
    queued = [b for b in left if b not in held and any(_is_coming(r) for r in runs.get(b, ()))]
    fresh = [b for b in left if b not in held and b not in queued and _may_be_tried(runs.get(b, ()))]
    for box in fresh:
        _queue(BOX, {"consignment": box[0], "box": box[1]}, " / ".join(box))
    if held or busy or queued or fresh:
        return f"{len(fresh)} boxes queued, {len(queued)} were queued before, {len(held)} are at work"
    if relate.is_settled(home, config, stamps):
        return "nothing left"
    try:
        run_night(home, _config(), call_help=_call_help)
    except BusyError as error:
        return str(error)
    return "compared and grouped"


def _is_coming(run: FlowRun) -> bool:
    if run.state_type == StateType.PENDING and run.state is not None:
        return datetime.now(UTC) - run.state.timestamp < _SOON
    return run.state_type == StateType.SCHEDULED


def _may_be_tried(runs: "list[FlowRun] | tuple[()]") -> bool:
    """What a run has come to the end of is left to the comparing run: what it left cannot be had now."""
    return len(runs) < _MOST_TRIES and not any(r.state_type == StateType.COMPLETED for r in runs)


def _runs_lately() -> dict[Box, list[FlowRun]]:
    with get_client(sync_client=True) as client:
        deployment = client.read_deployment_by_name(BOX)
        since = FlowRunFilterExpectedStartTime(after_=datetime.now(UTC) - _LATELY)
        made: dict[Box, list[FlowRun]] = defaultdict(list)
        offset = 0
        while True:
            some = client.read_flow_runs(
                flow_run_filter=FlowRunFilter(
                    deployment_id=FlowRunFilterDeploymentId(any_=[deployment.id]), expected_start_time=since
                ),
                offset=offset,
            )
            for run in some:
                made[run.parameters["consignment"], run.parameters["box"]].append(run)
            if not some:
                return made
            offset += len(some)


def _call_help(run: int, pile: str) -> int:
    """Queue one helper for each worker that is there; returns how many."""
    with get_client(sync_client=True) as client:
        there = client.read_workers_for_work_pool(BOXES)
    count = sum(worker.status == WorkerStatus.ONLINE for worker in there)
    for number in range(count):
        _queue(HELP, {"run": run, "pile": pile, "start": number / count}, f"run {run}, {pile}, {number + 1} of {count}")
    return count


def _queue(deployed: str, parameters: dict[str, Any], name: str | None = None) -> None:
    with get_client(sync_client=True) as client:
        deployment = client.read_deployment_by_name(deployed)
        client.create_flow_run_from_deployment(deployment.id, parameters=parameters, name=name)


def _home() -> Home:
    return Home(Path(os.environ["KINFOLD_HOME"]))


def _config() -> Path:
    return Path(os.environ["KINFOLD_CONFIG"])
