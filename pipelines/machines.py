"""Nights on several machines: a Prefect server hands out boxes, one flow run each, to process workers.

``deploy`` prepares the server; ``work`` is one machine's worker. What they run stands in ``boxes.py``.
"""

import os
import subprocess
import sys
from pathlib import Path

from intake.errors import KinfoldError, UsageError
from intake.services.home import Home
from pipelines import engine

BOXES, NIGHT = "kinfold-boxes", "kinfold-night"  # the work pools; the second hands out what the first works on
_ASK_EACH_S = "3"  # how often a worker asks for work; the engine's own 15 s would be lost with every box
ROOT = Path(__file__).resolve().parent.parent


def deploy(home: Home, config: Path, server: str, when: str) -> None:
    """Make the work pools and the deployments at ``server``; once more changes nothing but ``when`` (a cron line).

    Raises UsageError when the home's database is not shared, KinfoldError when the server refuses.
    """
    _refuse_files(home)
    engine.use_server(home.folder, server)
    from prefect.client.orchestration import get_client
    from prefect.client.schemas.actions import WorkPoolCreate
    from prefect.client.schemas.objects import ConcurrencyLimitConfig
    from prefect.flows import Flow
    from prefect.schedules import Cron

    # One that is still at it hands out the rest: a second beside it has nothing to do.
    alone = ConcurrencyLimitConfig(limit=1, collision_strategy="CANCEL_NEW")
    try:
        with get_client(sync_client=True) as client:
            for pool in (BOXES, NIGHT):
                client.create_work_pool(WorkPoolCreate(name=pool, type="process"), overwrite=True)
        for function, name, pool in (
            ("look_at_box", "box", BOXES),
            ("help_across", "help", BOXES),
            ("hand_out", "night", NIGHT),
        ):
            is_night = pool == NIGHT
            Flow.from_source(source=str(ROOT), entrypoint=f"pipelines/boxes.py:{function}").deploy(
                name=name,
                work_pool_name=pool,
                schedule=Cron(when, timezone=_zone()) if is_night else None,
                concurrency_limit=alone if is_night else None,
                job_variables={"working_dir": str(ROOT), "env": _environment(home, config, server)},
                build=False,
                push=False,
                print_next_steps=False,
                ignore_warnings=True,
            )
    except Exception as error:  # whatever its client raises: the words are the server's
        raise KinfoldError(f"{server}: the Prefect server refuses ({type(error).__name__}: {error}).") from error
    print(f"{server}: boxes are handed out at '{when}', by work pool {NIGHT}, and worked on by {BOXES}.")
    print(f"On one machine:   kinfold --home {home.folder} worker --server {server} --hand-out")
    print(f"On each machine:  kinfold --home {home.folder} worker --server {server}")


def work(home: Home, config: Path, server: str, hands_out: bool) -> None:
    """Work on one box after another, or hand them out, until stopped.

    Raises UsageError when the home's database is not shared, KinfoldError when the worker ends badly.
    """
    _refuse_files(home)
    engine.use_server(home.folder, server)
    os.environ |= _environment(home, config, server) | {"PREFECT_WORKER_QUERY_SECONDS": _ASK_EACH_S}
    pool = NIGHT if hands_out else BOXES
    command = [sys.executable, "-m", "prefect", "worker", "start", "--pool", pool, "--type", "process", "--limit", "1"]
    if code := subprocess.run(command, check=False, cwd=ROOT).returncode:
        raise KinfoldError(f"the worker ended with {code}. See that {server} answers, then type the same again.")


def _refuse_files(home: Home) -> None:
    if not home.database.is_shared:
        raise UsageError(
            f"{home.folder}: its database is a file, which one machine alone may write to. Move it first: "
            "kinfold move-home --to postgresql://kinfold@server/kinfold"
        )


def _environment(home: Home, config: Path, server: str) -> dict[str, str]:
    return {
        "KINFOLD_HOME": str(home.folder.resolve()),
        "KINFOLD_CONFIG": str(config.resolve()),
        "KINFOLD_SERVER": server,
        "PYTHONPATH": str(ROOT),
        "PREFECT_HOME": str(home.folder.resolve() / "prefect"),
    }


def _zone() -> str:
    """The name of this machine's time zone; UTC where it does not say."""
    link = Path("/etc/localtime")
    named = str(link.resolve()).partition("zoneinfo/")[2] if link.is_symlink() else ""
    return os.environ.get("TZ") or named or "UTC"
