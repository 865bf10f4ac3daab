"""One run: ask the ledger what is left before anything heavy is loaded, do it, and say what it came to."""

import time
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from intake.config.load import load_config
from intake.config.run import RunRules
from intake.errors import KinfoldError
from intake.model import WHOLE, Stamps
from intake.services import process, relate
from intake.services.explaining import explain
from intake.services.hazards import box_hazards
from intake.services.home import Home
from intake.services.progress import progress
from intake.services.stamps import stamps_of
from intake.store import differences, families, ledger, pairs
from intake.web.report import write_report
from pipelines import engine
from pipelines.night import READING, Night, Screen, cost_lines
from pipelines.notify import notify
from pipelines.say import hold_words, inert, say_explained, say_page

if TYPE_CHECKING:
    from pipelines.shift import CallHelp


def explain_night(home: Home, config_folder: Path, code: str | None) -> None:
    """Say what a run would do and why, and do nothing."""
    config = load_config(config_folder)
    say_explained(explain(home, config, stamps_of(config), code))


def run_night(
    home: Home, config_folder: Path, code: str | None = None, workers: int | None = None, box: str | None = None,
    call_help: "CallHelp | None" = None,
) -> None:  # fmt: skip
    """Do what is left to do, and print the report of the run; of one box of a shared database, its scans alone.
    ``call_help`` has other machines help with what is across scans.

    Raises ConfigError, BusyError, HomeError or StoppedError.
    """
    console = Screen(highlight=False)
    config = load_config(config_folder)
    stamps = stamps_of(config)
    started = time.monotonic()
    with home.held((code, box) if code and box else None):
        if not process.anything_received(home):
            console.print("Nothing received yet. Begin with: kinfold receive FOLDER --consignment CODE")
            return
        if not process.waiting(home, stamps, code, box) and (box or relate.is_settled(home, config, stamps)):
            console.print("Nothing new: every scan is done under these settings.")
            return
        engine.prepare(home.folder)
        from pipelines.intake_flow import Share, work_the_night

        night = Night(console)
        try:
            with night:
                count = workers or config.run.workers
                number = work_the_night(home, config, config_folder, stamps, Share(code, box, call_help), night, count)
        except KinfoldError as error:
            night.say(str(error), shown=False)
            notify("Kinfold: the run broke off", str(error), night.say)
            raise
        except Exception as error:
            night.say(traceback.format_exc(), shown=False)
            notify("Kinfold: the run broke off", f"{type(error).__name__}. The log of the run says more.", night.say)
            raise KinfoldError(
                f"the run broke off ({type(error).__name__}: {error}). What was finished is kept; "
                f"the details are in {home.folder / 'logs'}. Type the same again to continue."
            ) from error
        finally:
            night.close()
        if box is None:
            _report(home, console, stamps, night, time.monotonic() - started, config.run)
            say_page(write_report(home, config, number, night.missing))
            notify(f"Kinfold: run {number} is done", progress(home).words, night.say)


def _report(home: Home, console: Console, stamps: Stamps, night: Night, seconds: float, rules: RunRules) -> None:
    with home.database.read() as connection:
        made = families.all_families(connection)
        queue = {q.family: q for q in families.queue(connection)}
        stages = ledger.stage_costs(connection, stamps.stages)
        scans_done = len(ledger.digests_done(connection, WHOLE, stamps.whole))
        matching = pairs.pair_costs(connection, stamps.match)
        differing = differences.difference_costs(connection)
        held = [(" / ".join(b.name), len(b.held)) for b in box_hazards(connection, stamps)]
    if words := hold_words(held):
        console.print("\n" + words, markup=False, soft_wrap=True)
    console.print(f"\n{len(made)} families; {night.done.total()} scans looked at in {seconds:.0f} s.")
    for family in sorted(made, key=lambda f: -queue[f.code].weight if f.code in queue else 0):
        roles = ", ".join(m.role.replace("_", " ") for m in family.members)
        console.print(
            inert(f"  {family.code}  {family.title or 'no title read'}: {roles}"), markup=False, soft_wrap=True
        )
    for path, why in night.missing.items():
        console.print(inert(f"  not done: {path}: {why}"), markup=False, soft_wrap=True)
    costs = {
        "looking": _sum(stages, *(set(stages) - READING)),
        "reading": _sum(stages, *READING),
        "matching": matching,
        "differences": differing,
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
    chosen = [stages.get(n, (0, 0.0)) for n in names]
    return max((entries for entries, _ in chosen), default=0), sum(seconds for _, seconds in chosen)
