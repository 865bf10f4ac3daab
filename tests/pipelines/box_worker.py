"""One worker of several: box after box of a shared database, until none is left, whoever hands them out.

KINFOLD_SERVER=http://127.0.0.1:4200/api python -m tests.pipelines.box_worker HOME CONFIG
"""

import random
import sys
import time
from pathlib import Path

from intake.config.load import load_config
from intake.errors import BusyError, HomeError
from intake.services.home import Home
from intake.services.process import waiting
from intake.services.stamps import stamps_of
from pipelines.run import run_night


def main(home: Home, config: Path) -> None:
    """Take every box that nobody else has."""
    stamps = stamps_of(load_config(config))
    while True:
        try:
            left = sorted({(w.scan.consignment, w.scan.box) for w in waiting(home, stamps, None)})
            if not left:
                return
            for code, box in random.sample(left, len(left)):
                run_night(home, config, code, workers=1, box=box)
        except (BusyError, HomeError) as error:  # another one has it, or the database is away: as an engine, begin anew
            print(error)
            time.sleep(0.3)


if __name__ == "__main__":
    main(Home(Path(sys.argv[1])), Path(sys.argv[2]))
