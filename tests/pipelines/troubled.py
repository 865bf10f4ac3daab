"""The kinfold command with trouble made on purpose, told by the environment:

KINFOLD_TEST_DIES   a worker that is given a scan with this in its path is killed, every time
KINFOLD_TEST_CLOCK  the machine's clock jumps to and fro by up to a day, each time it is asked
"""

import os
import random
import signal
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from intake.services import home, look, work


class JumpingClock(datetime):
    """A clock that nobody can rely on."""

    @classmethod
    def now(cls, tz: Any = None) -> datetime:
        """Some time within a day of now."""
        return datetime.now(tz or UTC) + timedelta(seconds=random.uniform(-86_400, 86_400))


def deadly_look(job: look.ScanJob) -> look.Looked:
    """Look at a scan, or be killed by it."""
    if os.environ["KINFOLD_TEST_DIES"] in job.path:
        os.kill(os.getpid(), signal.SIGKILL)
    return work.look(job)


def main() -> int:
    """Put the trouble in place, then be the command."""
    if "KINFOLD_TEST_CLOCK" in os.environ:
        home.datetime = JumpingClock  # type: ignore[misc]
    if "KINFOLD_TEST_DIES" in os.environ:
        from pipelines import engine

        engine.prepare(Path(sys.argv[sys.argv.index("--home") + 1]))
        from pipelines import intake_flow
        from tests.pipelines import troubled  # by its name, so that a worker finds it

        intake_flow.look = troubled.deadly_look
    from pipelines.command import main as command

    return command()


if __name__ == "__main__":
    sys.exit(main())
