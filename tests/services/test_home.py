"""The home folder: private, held by one run at a time, and files written whole or not at all."""

import multiprocessing
import os
import signal
import stat
import subprocess
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from intake.errors import BusyError, HomeError
from intake.services.home import PICTURES, Home, features_path, now, picture_path, write_whole
from tests.made import ROOT, key


def test_a_new_home_is_private_and_has_its_places(tmp_path: Path) -> None:
    home = Home(tmp_path / "deep" / "home")
    for folder in (home.folder, *(home.folder / n for n in ("derivatives", "features", "logs", "scratch"))):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert home.scratch.is_dir()
    assert home.log(1).parent.is_dir()
    home.database.close()
    Home(home.folder).database.close()


def test_what_cannot_be_a_home(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for folder in (tmp_path / "file", tmp_path / "file" / "below", tmp_path / ("n" * 300)):
        with pytest.raises(HomeError, match="--home"):
            Home(folder)


def test_paths_hang_on_digest_part_and_stamp_alone(tmp_path: Path) -> None:
    one, other_part = key("../../etc/passwd"), key("../../etc/passwd", 2)
    made = {
        picture_path(tmp_path, k, name, stamp) for k in (one, other_part) for name in PICTURES for stamp in ("s1", "s2")
    } | {features_path(tmp_path, k, stamp) for k in (one, other_part) for stamp in ("s1", "s2")}
    assert len(made) == 2 * 3 * 2 + 2 * 2
    assert all(p.resolve().is_relative_to(tmp_path) for p in made)


def test_one_run_at_a_time(home: Home) -> None:
    again, words = Home(home.folder), rf"process {os.getpid()}\b.*kinfold progress"
    with home.held(), pytest.raises(BusyError, match=words), again.held():
        pass
    with again.held():
        pass
    again.database.close()


def test_the_hold_ends_with_its_process_however_that_dies(home: Home) -> None:
    code = (
        "import sys, time; from pathlib import Path; from intake.services.home import Home\n"
        "with Home(Path(sys.argv[1])).held(): print('held', flush=True); time.sleep(600)"
    )
    holder = subprocess.Popen([sys.executable, "-c", code, str(home.folder)], cwd=ROOT, stdout=subprocess.PIPE)
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"held\n"
    with pytest.raises(BusyError, match=rf"process {holder.pid}\b"), home.held():
        pass
    holder.send_signal(signal.SIGKILL)
    holder.wait()
    holder.stdout.close()
    with home.held():
        assert (home.folder / "run.lock").read_text() == str(os.getpid())


def test_a_file_is_written_whole(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "file.bin"
    write_whole(path, b"first")
    write_whole(path, b"second, and longer")
    assert path.read_bytes() == b"second, and longer"
    assert [p.name for p in path.parent.iterdir()] == ["file.bin"]


def test_a_file_that_cannot_be_written_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "file.bin"
    write_whole(path, b"before")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(path, b"after")
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"file.bin": b"before"}


def _rewrite(path: Path) -> None:
    for number in range(100_000):
        write_whole(path, bytes([number % 256]) * 300_000)


def test_a_kill_while_writing_leaves_the_old_file_or_the_new(tmp_path: Path) -> None:
    path = tmp_path / "file.bin"
    write_whole(path, b"\x00" * 300_000)
    for wait_s in (0.05, 0.11, 0.17, 0.23):
        child = multiprocessing.get_context("fork").Process(target=_rewrite, args=(path,))
        child.start()
        time.sleep(wait_s)
        child.kill()
        child.join()
        held = path.read_bytes()
        assert len(held) == 300_000
        assert len(set(held)) == 1


def test_times_are_in_utc_and_sort_as_text() -> None:
    made = datetime.fromisoformat(now())
    assert made.utcoffset() == timedelta(0)
    assert abs(datetime.now(made.tzinfo) - made) < timedelta(seconds=5)
    assert now() <= now()
    assert len(now()) == len("2026-11-02T20:00:00+00:00")
