"""What a run would do and why, before it does it: from the stamps alone. Imports what the stamps need and no more."""

from collections.abc import Mapping
from dataclasses import dataclass

from intake.config.load import Config
from intake.model import Stamps
from intake.services import relate
from intake.services.home import Home
from intake.services.process import waiting
from intake.services.space import Space, space_for
from intake.services.stamps import BEFORE, settings_of
from intake.store import ledger, pairs, runs

_SHOWN = 12


@dataclass(frozen=True, slots=True)
class StageWork:
    """One stage: files that it was never done for, files for which it would be done anew, and why.

    Of a file that cannot be opened only ``check`` is made; a new one is counted as one that can.
    """

    stage: str
    first: int
    anew: int
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Explained:
    """All that the next run would do. ``settled``: nothing at all."""

    scans: int
    stages: tuple[StageWork, ...]
    kept: tuple[str, ...]
    pairs_anew: int
    why_pairs: tuple[str, ...]
    settled: bool
    space: Space


def explain(home: Home, config: Config, stamps: Stamps, code: str | None = None) -> Explained:
    """What is left to do under ``stamps``, beside what the ledger holds."""
    todo = {w.scan.digest for w in waiting(home, stamps, code)}
    told = settings_of(config)
    with home.database.read() as connection:
        before = runs.current_settings(connection)
        last = runs.current_stamps(connection)
        stages, kept = [], []
        checks = ledger.payloads_of(connection, sorted(todo), "check", stamps.stages["check"], '"parts":[]')
        refused = {key.digest for key, _ in checks}
        for stage, stamp in stamps.stages.items():
            lacking = todo - ledger.digests_done(connection, stage, stamp) - refused
            anew = lacking & ledger.digests_with(connection, stage)
            if lacking:
                why = _why(stage, last, stamps, before, told)
                stages.append(StageWork(stage, len(lacking - anew), len(anew), why if anew else ()))
            elif todo:
                kept.append(stage)
        pairs_anew, why_pairs = 0, tuple[str, ...]()
        if last and last.match != stamps.match:
            pairs_anew, _ = pairs.pair_costs(connection, last.match)
            inherited = last.stages.get("fingerprint") != stamps.stages["fingerprint"]
            why_pairs = ("fingerprint is made anew",) if inherited else _changes("match", before, told)
    return Explained(
        len(todo),
        tuple(stages),
        tuple(kept),
        pairs_anew,
        why_pairs,
        not todo and relate.is_settled(home, config, stamps),
        space_for(home, len(todo), config.run),
    )


def _why(
    stage: str,
    last: Stamps | None,
    stamps: Stamps,
    before: Mapping[str, Mapping[str, str]] | None,
    told: Mapping[str, Mapping[str, str]],
) -> tuple[str, ...]:
    """What changed for this stage since the newest run: its own settings, and the stages before it."""
    if last is None or last.stages.get(stage) == stamps.stages[stage]:
        return ("its results under these settings are not there for these files",)
    follows = [f"{b} is made anew" for b in BEFORE[stage] if last.stages.get(b) != stamps.stages[b]]
    own = () if before is None and follows else _changes(stage, before, told)
    return tuple(follows) + own or ("its settings have changed",)


def _changes(
    stage: str, before: Mapping[str, Mapping[str, str]] | None, told: Mapping[str, Mapping[str, str]]
) -> tuple[str, ...]:
    if before is None or stage not in before:
        return ("the run before did not write down its settings",)
    old, new = before[stage], told[stage]
    changed = [k for k in sorted(old.keys() | new.keys()) if old.get(k) != new.get(k)]
    lines = [_change(k, old.get(k), new.get(k)) for k in changed[:_SHOWN]]
    return (*lines, *((f"and {len(changed) - _SHOWN} more",) if len(changed) > _SHOWN else ()))


def _change(name: str, old: str | None, new: str | None) -> str:
    if old is None:
        return f"{name} is new"
    if new is None:
        return f"{name} is gone"
    if len(old) > 60 or len(new) > 60 or (name.startswith(("config/formats.csv", "config/patterns", "config/certif"))):
        return f"{name} has changed"
    return f"{name} was {old}, is {new}"
