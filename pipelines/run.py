"""One run: ask the ledger what is left before anything heavy is loaded, do it, and say what it came to."""

import time
import traceback
from pathlib import Path

from rich.console import Console

from intake.config.load import load_config
from intake.config.run import RunRules
from intake.errors import KinfoldError
from intake.model import WHOLE, Stamps
from intake.services import process, relate
from intake.services.hazards import box_hazards
from intake.services.home import Home
from intake.services.stamps import stamps_of
from intake.store import families, ledger, pairs
from pipelines import engine
from pipelines.night import Night, cost_lines
from pipelines.say import hold_words, inert


def run_night(home: Home, config_folder: Path, code: str | None, workers: int | None) -> None:
    """Do what is left to do, and print the report of the run.

    Raises ConfigError, BusyError, HomeError or StoppedError.
    """
    console = Console(highlight=False)
    config = load_config(config_folder)
    stamps = stamps_of(config)
    started = time.monotonic()
    with home.held():
        if not process.anything_received(home):
            console.print("Nothing received yet. Begin with: kinfold receive FOLDER --consignment CODE")
            return
        if not process.waiting(home, stamps, code) and relate.is_settled(home, config, stamps):
            console.print("Nothing new: every scan is done under these settings.")
            return
        engine.prepare(home.folder)
        from pipelines.intake_flow import work_the_night

        try:
            with Night(console) as night:
                work_the_night(home, config, config_folder, stamps, code, night, workers or config.run.workers)
        except KinfoldError:
            raise
        except Exception as error:
            with home.log.open("a", encoding="utf-8") as log:
                traceback.print_exc(file=log)
            raise KinfoldError(
                f"the run broke off ({type(error).__name__}: {error}). What was finished is kept; "
                f"the details are in {home.log}. Type the same again to continue."
            ) from error
        _report(home, console, stamps, night, time.monotonic() - started, config.run)


def _report(home: Home, console: Console, stamps: Stamps, night: Night, seconds: float, rules: RunRules) -> None:
    with home.database.read() as connection:
        made = families.all_families(connection)
        queue = {q.family: q for q in families.queue(connection)}
        stages = ledger.stage_costs(connection, stamps.stages)
        scans_done = len(ledger.digests_done(connection, WHOLE, stamps.whole))
        matching = pairs.pair_costs(connection, stamps.match)
        held = [(" / ".join(b.name), len(b.held)) for b in box_hazards(connection, stamps)]
    if words := hold_words(held):
        console.print("\n" + words, markup=False, soft_wrap=True)
    console.print(f"\n{len(made)} families; {night.done.total()} scans looked at in {seconds:.0f} s.")
    for family in sorted(made, key=lambda f: -queue[f.code].weight if f.code in queue else 0):
        roles = ", ".join(m.role.replace("_", " ") for m in family.members)
        console.print(
            inert(f"  {family.code}  {family.title or 'no title read'}: {roles}"), markup=False, soft_wrap=True
        )
    for path, why in night.missing:
        console.print(inert(f"  not done: {path}: {why}"), markup=False, soft_wrap=True)
    costs = {
        "looking": _sum(stages, "check", "render", "classify", "measure", "fingerprint"),
        "reading": _sum(stages, "read", "barcode", "parse"),
        "matching": matching,
    }
    for line in ["", *cost_lines(costs, scans_done, rules)]:
        console.print(line)
    each = ", ".join(
        f"{stage} {seconds / max(scans_done, 1):.2f}" for stage, (_, seconds) in sorted(stages.items()) if seconds
    )
    console.print(f"  stage by stage: {each}", soft_wrap=True)
    if looked := night.done.total():
        console.print(
            f"  this run's own share (parent process, Prefect in it): {time.process_time() / looked:.2f} a scan"
        )


def _sum(stages: dict[str, tuple[int, float]], *names: str) -> tuple[int, float]:
    entries, seconds = zip(*(stages.get(n, (0, 0.0)) for n in names), strict=True)
    return max(entries), sum(seconds)
