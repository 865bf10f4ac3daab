"""Kill runs at random moments until so many kills were survived, and count.

    python -m tests.bench.kills --work FOLDER --kills 36 --seed 1

The batch of 12 scans with recorded readings, chunks of one scan. Every home, and every copy that a power cut left,
must end with the tables of a run that nobody disturbed. Stops at the first that does not. About a minute a kill.
"""

import argparse
import itertools
import random
import shutil
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.pipelines import batch
from tests.pipelines.havoc import HARMS, Havoc, check_ends

_A_ROUND = 5


def main() -> None:
    """Do it and print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--kills", type=int, default=36)
    ask.add_argument("--seed", type=int, default=1)
    told = ask.parse_args()
    chance = random.Random(told.seed)
    began = time.monotonic()
    told.work.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=told.work) as name:
        folder, place = batch.record_readings(Path(name)), Path(name) / "homes"
        home = place / "undisturbed"
        batch.receive(folder, home)
        batch.finish(folder, home, "run")
        shutil.copytree(home / "prefect", folder / "prefect", ignore=shutil.ignore_patterns("server.pid"))
        expected, rows = batch.tables(folder, home), batch.progress(home)
        done: Counter[str] = Counter()
        copies = 0
        for number in itertools.count():
            if done.total() >= told.kills:
                break
            havoc = Havoc(folder, place / str(number), rows, chance)
            harms = [*HARMS] * (_A_ROUND // len(HARMS))
            chance.shuffle(harms)
            havoc.round(harms)
            check_ends(folder, havoc.home, rows, expected)
            for copy in havoc.copies:
                check_ends(folder, copy, rows, expected)
                shutil.rmtree(copy)
            shutil.rmtree(havoc.home)
            done += havoc.done
            copies += len(havoc.copies)
            said = ", ".join(f"{harm} {done[harm]}" for harm in HARMS)
            print(f"round {number}: {done.total()} survived ({said}), {copies} copies continued", flush=True)
    print(f"all tables equal, nothing lost, nothing doubled; {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
