"""What is left to do, and what goes into the ledger when looking at a file fails."""

import errno
import hashlib
import os
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from intake.errors import HomeError
from intake.model import WHOLE, Finding, PartKey, StageResult, Stamps, Worked
from intake.services import look, process, work
from intake.services.home import Home
from intake.services.look import Looked, ScanJob, Tools
from intake.store import ledger
from intake.store.codec import from_text
from tests.made import SETTINGS, STAMPS, Written, classified, received

# None of these tests comes to a stage that would use more of them.
NO_TOOLS = cast(Tools, SimpleNamespace(config=SimpleNamespace(check=None, run=SETTINGS.run), scratch=Path("/tmp")))


def job(path: Path, content: bytes = b"a picture", **have: StageResult) -> ScanJob:
    path.write_bytes(content)
    held = {Worked(r.key, r.stage): r for r in have.values()}
    return ScanJob(hashlib.sha256(b"a picture").hexdigest(), str(path.parent), path.name, STAMPS, held)


def stages(looked: Looked) -> dict[str, str]:
    return {r.stage: r.state for r in looked.results}


def test_files_are_waiting_until_they_are_looked_at_to_the_end(home: Home) -> None:
    one, two, twin = received("B/1.tif"), received("B/2.tif"), received("B/3.tif", digest=received("B/1.tif").digest)
    written = Written(home)
    written.consignment(one, two, twin)
    assert [w.scan.path for w in process.waiting(home, STAMPS, None)] == ["B/1.tif", "B/2.tif"]
    written.looked(one, [classified()])
    assert [w.scan.path for w in process.waiting(home, STAMPS, None)] == ["B/2.tif"]
    written.looked(two, [classified()], whole=False)
    (waiting,) = process.waiting(home, STAMPS, "C")
    assert (waiting.scan, waiting.folder) == (two, "/received")
    assert process.waiting(home, STAMPS, "D") == []
    (job,) = process.jobs_of(home, [waiting], STAMPS)
    assert {(w.stage, w.key.part) for w in job.have} == {("check", 0), ("classify", 1)}
    newer = Stamps(STAMPS.stages, "newer", STAMPS.match)
    assert len(process.waiting(home, newer, None)) == 2


def test_a_check_that_breaks_off_ends_that_scan_and_no_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> None:
        raise ZeroDivisionError("Gr\udcfcn")

    monkeypatch.setattr(look._Bench, "check", broken)
    looked = look.look_at(job(tmp_path / "0001.tif"), NO_TOOLS)
    assert stages(looked) == {"check": "failed", WHOLE: "done"}
    finding = from_text(Finding, looked.results[0].payload)
    assert (finding.code, finding.severity) == ("stage_failed", "failure")
    assert "ZeroDivisionError" in finding.message


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EROFS])
def test_a_disk_that_refuses_is_no_trouble_of_the_scan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """It would stand in the ledger as that scan's failure, and never be tried again."""

    def refused(*_: Any) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(look._Bench, "check", refused)
    with pytest.raises(HomeError, match="the disk refuses"):
        look.look_at(job(tmp_path / "0001.tif"), NO_TOOLS)


def test_whatever_breaks_on_a_full_disk_is_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> None:
        raise RuntimeError("a library's own words")

    monkeypatch.setattr(look._Bench, "check", broken)
    monkeypatch.setattr(look.shutil, "disk_usage", lambda _: SimpleNamespace(free=1_000_000))
    with pytest.raises(HomeError, match="1 MB are free"):
        look.look_at(job(tmp_path / "0001.tif"), NO_TOOLS)


def test_a_number_that_is_none_is_a_stage_that_failed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(look._Bench, "check", lambda _: float("nan"))
    assert stages(look.look_at(job(tmp_path / "0001.tif"), NO_TOOLS)) == {"check": "failed", WHOLE: "done"}


def test_what_failed_before_under_these_settings_is_not_tried_again(tmp_path: Path) -> None:
    key = PartKey(hashlib.sha256(b"a picture").hexdigest(), 0)
    before = StageResult(key, "check", STAMPS.stages["check"], "failed", "", 0.1)
    assert stages(look.look_at(job(tmp_path / "0001.tif", before=before), NO_TOOLS)) == {WHOLE: "done"}


def test_a_file_that_is_gone_or_another_now_leaves_nothing_in_the_ledger(tmp_path: Path) -> None:
    changed = look.look_at(job(tmp_path / "0001.tif", b"another picture"), NO_TOOLS)
    assert (changed.results, "no longer the file" in changed.missing) == ((), True)
    gone = job(tmp_path / "0002.tif")
    (tmp_path / "0002.tif").unlink()
    looked = look.look_at(gone, NO_TOOLS)
    assert (looked.results, "next run" in looked.missing) == ((), True)
    (tmp_path / "0002.tif").symlink_to("0001.tif")
    assert look.look_at(gone, NO_TOOLS).results == ()


def test_a_scan_set_aside_is_not_waiting_and_says_why(home: Home) -> None:
    scan = received("B/1.tif")
    Written(home).consignment(scan)
    (one,) = process.jobs_of(home, process.waiting(home, STAMPS, None), STAMPS)
    process.record(home, [process.set_aside(one, "ended its worker process twice")])
    assert process.waiting(home, STAMPS, None) == []
    with home.database.read() as connection:
        (entry,) = ledger.results_of(connection, [scan.digest], STAMPS.entries)[scan.digest].values()
    assert entry.state == "quarantined"
    assert from_text(Finding, entry.payload).message.startswith("ended its worker process twice and was set aside.")


def test_memory_that_runs_out_ends_the_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that the scan is tried alone, and set aside the second time, instead of ending the night."""

    class Ended(BaseException):
        pass

    def end(code: int) -> None:
        raise Ended(code)

    def too_much(*_: Any) -> None:
        raise MemoryError

    monkeypatch.setattr(work, "_tools", lambda: NO_TOOLS)
    monkeypatch.setattr(work, "look_at", too_much)
    monkeypatch.setattr(work.os, "_exit", end)
    with pytest.raises(Ended):
        work.look(cast(ScanJob, None))
