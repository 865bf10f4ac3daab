"""What a run leans on is away or full for a while, or a scan is deadly: the run goes on, and says what is not done."""

import csv
import io
import os
import shutil
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pipelines import batch
from tests.pipelines.conftest import Undisturbed

DEADLY = "B02/2026-014_B02_0020_front.jpg"


def with_settings(folder: Path, to: Path, **changed: float) -> Path:
    """The batch once more, its scans in a folder of its own, with other settings of a run."""
    shutil.copytree(folder / "batch", to / "batch")
    shutil.copytree(folder / "config", to / "config")
    (to / "prefect").symlink_to(folder / "prefect")
    run = to / "config" / "run.toml"
    text = run.read_text()
    for name, value in changed.items():
        lines = [f"{name} = {value}" if line.startswith(f"{name} = ") else line for line in text.splitlines()]
        text = "\n".join(lines) + "\n"
        assert f"{name} = {value}\n" in text
    run.write_text(text)
    return to


def run(folder: Path, home: Path, code: int = 0, **trouble: str) -> str:
    """A run, with trouble where it is named; returns what it said, and asserts how it ended."""
    command = batch.kinfold(folder, home, "run")
    command[2] = "tests.pipelines.troubled"
    done = subprocess.run(
        command,
        cwd=batch.ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=900,
        env=os.environ | {"PYTHONPATH": str(batch.ROOT), **trouble},
    )
    assert done.returncode == code, done.stdout
    return done.stdout


def test_a_deadly_scan_is_set_aside_and_a_jumping_clock_changes_nothing(
    folder: Path, undisturbed: Undisturbed, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    batch.receive(folder, home)
    said = run(folder, home, KINFOLD_TEST_DIES=DEADLY, KINFOLD_TEST_CLOCK="1")
    assert f"{DEADLY}: ended its worker process twice and was set aside" in said
    made = batch.tables(folder, home)
    assert "quarantined" in made["findings"]
    for table in ("scans", "marks"):
        of_others = [
            [row for row in csv.reader(io.StringIO(text)) if DEADLY not in row]
            for text in (made[table], undisturbed.tables[table])
        ]
        ours, theirs = (sorted(_without_family(rows)) for rows in of_others)
        assert ours == theirs
    assert "Nothing new" in run(folder, home), "it was tried again"


def _without_family(rows: list[list[str]]) -> list[list[str]]:
    """A family may lose the member that was set aside, and its code with it."""
    if "family" not in rows[0]:
        return rows
    at = rows[0].index("family")
    return [[*r[:at], *r[at + 1 :]] for r in rows]


def test_scans_that_are_away_are_waited_for_or_left_to_the_next_run(
    folder: Path, undisturbed: Undisturbed, tmp_path: Path
) -> None:
    short = with_settings(folder, tmp_path / "short", source_patience_s=1.0)
    home, scans, away = tmp_path / "home", short / "batch" / "scans", tmp_path / "away"
    batch.receive(short, home)
    scans.rename(away)
    scans.mkdir()  # an empty mount point
    said = run(short, home)
    assert "no scans are there now" in said
    assert "is still away; its scans are left for the next run" in said
    assert "cannot be had" in said
    report = max((home / "logs").glob("*.html")).read_text()
    assert "12 scans could not be had" in report or "11 scans could not be had" in report
    patient = short / "config" / "run.toml"
    patient.write_text(patient.read_text().replace("source_patience_s = 1.0", "source_patience_s = 120.0"))
    log = home / "logs" / "run-00002.log"

    def bring_back() -> None:
        while not (log.exists() and "no scans are there now" in log.read_text()):
            threading.Event().wait(0.1)
        scans.rmdir()
        away.rename(scans)

    helper = threading.Thread(target=bring_back, daemon=True)
    helper.start()
    assert "is back" in run(short, home)
    helper.join(5)
    assert batch.tables(short, home) == undisturbed.tables
    assert batch.progress(home) == undisturbed.rows


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 3 MB: a file system of its own, that really says it is full."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", place], capture_output=True, text=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


def test_a_full_disk_stops_the_run_before_damage_and_it_goes_on_after(
    folder: Path, undisturbed: Undisturbed, tmp_path: Path, small_disk: Path
) -> None:
    """First by the reserve that a run keeps; then, without one, by the disk itself (ENOSPC)."""
    careful = with_settings(folder, tmp_path / "careful", reserve_mb=1.6, scan_mb=0.3, database_patience_s=1.0)
    home = small_disk / "home"
    home.mkdir(mode=0o700)
    engine = tmp_path / "engine"  # the engine's own tables take more than this disk has
    shutil.copytree(folder / "prefect", engine)
    (home / "prefect").symlink_to(engine)
    (careful / "prefect").unlink()
    batch.receive(careful, home)
    said = run(careful, home, code=6)
    assert "stay untouched" in said
    assert "scans are left, which take about" in said
    kept = batch.progress(home)
    assert "Nothing missing, nothing altered" in batch.finish(careful, home, "check-home")
    settings = careful / "config" / "run.toml"
    # As if a scan took nothing: the reserve is blind, and the disk itself refuses.
    blind = (
        settings.read_text().replace("reserve_mb = 1.6", "reserve_mb = 0.0").replace("scan_mb = 0.3", "scan_mb = 0.0")
    )
    settings.write_text(blind)
    said = run(careful, home, code=6)
    assert "No space left on device" in said or "disk is full" in said, said
    assert batch.progress(home) >= kept
    subprocess.run(["mount", "-o", "remount,size=60m", small_disk], check=True)
    assert "Nothing missing, nothing altered" in batch.finish(careful, home, "check-home")
    run(careful, home)
    assert batch.tables(careful, home) == undisturbed.tables
    assert batch.progress(home) == undisturbed.rows
