"""Room on the disk: what a run will take is said before it starts, and it stops before the disk is full."""

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from intake.config.run import RunRules
from intake.errors import HomeError
from intake.services.home import Home

_MB = 1_000_000
_MEASURED_FROM = 50


@dataclass(frozen=True, slots=True)
class Space:
    """In MB. ``each``: what one scan leaves in the home, from this home where it ``is_measured``, else from config/.

    ``needed``: what the scans still to do will take; ``free``: what the disk has; ``reserve``: what a run leaves.
    """

    each: float
    is_measured: bool
    needed: float
    free: float
    reserve: float

    @property
    def is_enough(self) -> bool:
        """Will all of it fit?"""
        return self.needed + self.reserve <= self.free

    @property
    def words(self) -> str:
        """One sentence."""
        source = "measured here" if self.is_measured else "config/run.toml, until scans of this home were measured"
        fits = "" if self.is_enough else f" That does not fit: {self.lacking:,.0f} MB more are needed."
        return (
            f"About {self.needed:,.0f} MB of pictures and features will be written ({self.each:.2f} MB a scan, "
            f"{source}); {self.free:,.0f} MB are free.{fits}"
        )

    @property
    def lacking(self) -> float:
        """What has to be freed for all of it to fit."""
        return max(0.0, self.needed + self.reserve - self.free)


def space_for(home: Home, scans: int, rules: RunRules) -> Space:
    """What so many scans more will take, from what those before took."""
    files, held = _held(home.folder / "features")
    derived = sum(_held(home.folder / name)[1] for name in ("derivatives",)) + held
    measured = files >= _MEASURED_FROM
    each = derived / files / _MB if measured else rules.scan_mb
    return Space(each, measured, scans * each, _free(home), rules.reserve_mb)


def keep_reserve(home: Home, scans: int, rules: RunRules, each: float) -> None:
    """Raises HomeError, before anything is written, when a chunk more would touch the reserve."""
    free = _free(home)
    if free < rules.reserve_mb + rules.chunk_scans * each:
        raise HomeError(
            f"{home.folder}: the disk has {free:,.0f} MB left, and {rules.reserve_mb:,.0f} MB of them stay untouched. "
            f"{scans:,} scans are left, which take about {scans * each:,.0f} MB: free that much, then type the same "
            "again. All finished chunks are kept."
        )


def _free(home: Home) -> float:
    return shutil.disk_usage(home.folder).free / _MB


def _held(folder: Path) -> tuple[int, int]:
    """(files, bytes) below a folder."""
    files = held = 0
    for place, _, names in os.walk(folder):
        for name in names:
            files += 1
            held += (Path(place) / name).stat().st_size
    return files, held
