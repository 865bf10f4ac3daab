"""The 12-scan batch, a config whose readers replay a recording, and runs of the real command over both."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

from intake.config.load import load_config
from intake.ocr.engines import load_engines
from intake.ocr.recorded import RecordedEngines
from intake.services.export import export
from intake.services.home import Home, features_path, picture_path
from intake.services.look import ScanJob, Tools, look_at
from intake.services.receive import digest_of
from intake.services.stamps import stamps_of
from intake.setup import load_engines as listed_engines
from sample_batch.paint import small_batch

ROOT = Path(__file__).resolve().parents[2]
TABLES = ("scans", "marks", "matches", "families", "findings", "boxes")


def record_readings(folder: Path) -> Path:
    """Paint nothing, read everything once: a config folder in which the engines replay what they said of the batch."""
    batch = folder / "batch"
    small_batch(batch)
    config = folder / "config"
    shutil.copytree(ROOT / "config", config)
    loaded = load_config(config)
    models = {m.file: m for m in listed_engines(config)[0]}
    recorded = RecordedEngines(folder / "readings.json", load_engines(loaded.read, models))
    scratch = folder / "scratch"
    scratch.mkdir()
    tools = Tools(
        loaded,
        recorded.engines,
        scratch,
        lambda key, name, stamp: picture_path(folder / "made", key, name, stamp),
        lambda key, stamp: features_path(folder / "made", key, stamp),
    )
    for path in sorted(p for p in (batch / "scans").rglob("*") if p.is_file()):
        look_at(ScanJob(digest_of(path), str(path.parent), path.name, stamps_of(loaded), {}), tools)
    recorded.save()
    with (config / "read.toml").open("r+", encoding="utf-8") as file:
        text = file.read()
        file.seek(0)
        file.write(f'recording = "{folder / "readings.json"}"\n{text}')
    run = config / "run.toml"
    # Small chunks, so that a kill falls into real progress.
    text = run.read_text().replace("chunk_scans = 6", "chunk_scans = 1").replace("pair_chunk = 64", "pair_chunk = 8")
    run.write_text(text)
    return folder


def kinfold(folder: Path, home: Path, *arguments: str) -> list[str]:
    """The command line of kinfold over the batch in ``folder``."""
    options = ["--home", str(home), "--config", str(folder / "config")]
    return [sys.executable, "-m", "pipelines.command", *options, *arguments]


def start(folder: Path, home: Path, *arguments: str) -> "subprocess.Popen[str]":
    """Start kinfold as the head of a process group of its own."""
    return subprocess.Popen(
        kinfold(folder, home, *arguments),
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def finish(folder: Path, home: Path, *arguments: str) -> str:
    """Run kinfold to its end; returns what it said. Fails the test when it fails."""
    process = start(folder, home, *arguments)
    said, _ = process.communicate(timeout=900)
    assert process.returncode == 0, said
    return said


def finish_plain(*words: object, home: Path) -> str:
    """A command of kinfold that needs no batch, run to its end; returns what it said."""
    command = [sys.executable, "-m", "pipelines.command", "--home", str(home), *map(str, words)]
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=300, env=os.environ | {"PYTHONPATH": str(ROOT)}
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def receive(folder: Path, home: Path) -> str:
    """Receive the batch. The engine's own empty tables are laid in, if kept: making them takes it 20 CPU seconds."""
    if (folder / "prefect").exists():
        shutil.copytree(folder / "prefect", home / "prefect", dirs_exist_ok=True)
    scans, box_list = folder / "batch" / "scans", folder / "batch" / "box-list.csv"
    listed = ["--box-list", str(box_list)] if box_list.exists() else []
    return finish(folder, home, "receive", str(scans), "--consignment", "2026-014", *listed)


def progress(home: Path) -> int:
    """Rows of the ledger and compared pairs: what a kill must not lose."""
    try:
        with sqlite3.connect(f"file:{home / 'kinfold.db'}?mode=ro", uri=True, timeout=30) as database:
            return sum(database.execute(f"SELECT COUNT(*) FROM {t}").fetchone()[0] for t in ("work", "pair"))
    except sqlite3.Error:
        return 0


def wait_for_progress(home: Path, process: "subprocess.Popen[str]", rows: int, limit_s: float = 600) -> None:
    """Until the ledger has at least ``rows`` rows. Fails the test when the run ends before that."""
    end = time.monotonic() + limit_s
    while progress(home) < rows:
        assert process.poll() is None, process.communicate()[0]
        assert time.monotonic() < end, "no progress"
        time.sleep(0.05)


def kill(process: "subprocess.Popen[str]", group: bool = True) -> None:
    """SIGKILL to the whole group, or to the parent alone."""
    (os.killpg if group else os.kill)(process.pid, signal.SIGKILL)
    process.wait()
    # Not read to its end: the engine's server outlives the kill, and holds the other end until the next run ends it.
    assert process.stdout is not None
    process.stdout.close()


def tables(folder: Path, home: Path) -> dict[str, str]:
    """Every exported table as text."""
    config, opened, made = load_config(folder / "config"), Home(home), {}
    for table in TABLES:
        to = home / f"{table}.csv"
        export(opened, config, table, to)
        made[table] = to.read_text(encoding="utf-8")
    opened.database.close()
    return made
