"""One worker of several, without a Prefect server between: box after box of a shared database, until none is left.

python -m tests.pipelines.box_worker HOME CONFIG
"""

import sys
import time
from pathlib import Path

from intake.config.load import load_config
from intake.errors import BusyError
from intake.services.home import Home
from intake.services.process import waiting
from intake.services.stamps import stamps_of
from pipelines.run import run_night


def main(home: Home, config: Path) -> None:
    """Take every box that nobody else has."""
    stamps = stamps_of(load_config(config))
    while left := {(w.scan.consignment, w.scan.box) for w in waiting(home, stamps, None)}:
        for code, box in sorted(left):
            try:
                run_night(home, config, code, workers=1, box=box)
            except BusyError as error:
                print(error)
                time.sleep(0.3)


if __name__ == "__main__":
    main(Home(Path(sys.argv[1])), Path(sys.argv[2]))
