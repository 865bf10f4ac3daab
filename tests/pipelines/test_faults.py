"""A killed run continues: the tables equal those of a run that nobody disturbed, and no work is lost or doubled."""

import random
import sqlite3
from pathlib import Path

from tests.pipelines import batch
from tests.pipelines.conftest import Undisturbed
from tests.pipelines.havoc import Havoc, check_ends


def test_tables_after_harm_of_every_sort_equal_those_of_an_undisturbed_run(
    folder: Path, undisturbed: Undisturbed, tmp_path: Path
) -> None:
    """The short form of tests/bench/kills.py."""
    havoc = Havoc(folder, tmp_path / "home", undisturbed.rows, random.Random(20261125))
    havoc.round(["worker", "power cut", "parent", "worker", "stop", "group"])
    assert havoc.done.total() >= 5, havoc.done
    check_ends(folder, havoc.home, undisturbed.rows, undisturbed.tables)
    for copy in havoc.copies:
        check_ends(folder, copy, undisturbed.rows, undisturbed.tables)


def test_a_second_run_has_nothing_to_do(folder: Path, undisturbed: Undisturbed) -> None:
    _, _, home = undisturbed
    assert "Nothing new" in batch.finish(folder, home, "run")


def test_the_result_does_not_depend_on_the_number_of_workers_or_the_size_of_chunks(
    folder: Path, undisturbed: Undisturbed, tmp_path: Path
) -> None:
    expected, _, _ = undisturbed
    run = folder / "config" / "run.toml"
    text = run.read_text()
    run.write_text(text.replace("chunk_scans = 1", "chunk_scans = 5").replace("pair_chunk = 8", "pair_chunk = 100"))
    try:
        home = tmp_path / "home"
        batch.receive(folder, home)
        batch.finish(folder, home, "run", "--workers", "1")
        assert batch.tables(folder, home) == expected
    finally:
        run.write_text(text)


def test_sigterm_finishes_the_chunk_and_says_so(folder: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    batch.receive(folder, home)
    process = batch.start(folder, home, "run")
    batch.wait_for_progress(home, process, 1)
    process.terminate()
    said, _ = process.communicate(timeout=300)
    assert process.returncode == 7, said
    assert "stopped as asked" in said


def test_a_second_run_in_the_same_home_leaves_by_name(folder: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    batch.receive(folder, home)
    first = batch.start(folder, home, "run")
    batch.wait_for_progress(home, first, 1)
    second = batch.start(folder, home, "run")
    said, _ = second.communicate(timeout=120)
    batch.kill(first)
    assert second.returncode == 5
    assert str(first.pid) in said


def test_originals_are_as_they_were(folder: Path, undisturbed: Undisturbed) -> None:
    _, _, home = undisturbed
    with sqlite3.connect(home / "kinfold.db") as database:
        received = database.execute("SELECT path, digest FROM scan").fetchall()
    scans = folder / "batch" / "scans"
    assert received
    assert {p: batch.digest_of(scans / p) for p, _ in received} == dict(received)
