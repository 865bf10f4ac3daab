"""A home looked over, kept in one file and made again from it: nothing missing, nothing altered, or it is said."""

import hashlib
import io
import stat
import subprocess
import tarfile
from pathlib import Path

import cv2
import numpy as np
import pytest

from intake.errors import HomeError, UsageError
from intake.imaging.features import Features, pack_frame
from intake.model import Classified, FeatureSummary, Received, Rendered
from intake.services.backup import backup, restore
from intake.services.checking import check_home, mend
from intake.services.home import Home, features_path, picture_path, write_whole
from intake.services.process import waiting
from intake.services.receive import digest_of
from intake.store import decisions
from intake.store.copying import differing
from tests.made import AT, FRAME, STAMPS, Written, classified, key, received

JPEG = cv2.imencode(".jpg", np.full((8, 8, 3), 90, np.uint8))[1].tobytes()
BLANK = np.zeros((0, 4), np.float32), np.zeros((0, 128), np.uint8), *pack_frame(np.full((60, 40), 200, np.uint8))


@pytest.fixture
def filled(home: Home) -> Home:
    """A home with two scans, looked at, of which the second is a negative; with a run and a ruling."""
    one, two = received("B/1.tif"), received("B/2.tif")
    written = Written(home)
    written.consignment(one, two)
    written.run()
    for scan, kind in ((one, classified()), (two, classified("film_negative", polarity="negative"))):
        look(written, scan, kind)
    with home.database.write() as connection:
        decisions.add_decision(connection, AT, "Ada", "confirm", [key("B/1.tif"), key("B/2.tif")], {})
    return home


def look(written: Written, scan: Received, kind: Classified) -> None:
    summary = FeatureSummary(0, 40, 60, 1.0, FRAME)
    written.looked(scan, [Rendered(FRAME, 1000, 1500, 1.0), kind, summary])
    part, stamps, folder = key(scan.path), STAMPS.stages, written.home.folder
    for name in ("working", "thumb"):
        write_whole(picture_path(folder, part, name, stamps["render"]), JPEG)
    if kind.polarity == "negative":
        write_whole(picture_path(folder, part, "positive", stamps["classify"]), JPEG)
    features = Features(*BLANK, 1.0, FRAME, "unknown")
    write_whole(features_path(folder, part, stamps["fingerprint"]), features.to_bytes())


def all_files(home: Home) -> dict[str, bytes]:
    places = (home.folder / "derivatives", home.folder / "features")
    return {p.relative_to(home.folder).as_posix(): p.read_bytes() for f in places for p in f.rglob("*") if p.is_file()}


def test_a_whole_home_is_whole(filled: Home) -> None:
    found = check_home(filled)
    assert (found.is_whole, found.rows, found.files, found.loose, found.touched) == (True, 7, 7, (), ())


@pytest.mark.parametrize("name", ["working", "thumb", "positive", "features"])
def test_a_file_that_is_gone_or_cut_short_is_named_and_made_anew(filled: Home, name: str) -> None:
    stamps = STAMPS.stages
    path = {
        "features": features_path(filled.folder, key("B/2.tif"), stamps["fingerprint"]),
        "positive": picture_path(filled.folder, key("B/2.tif"), "positive", stamps["classify"]),
    }.get(name) or picture_path(filled.folder, key("B/2.tif"), name, stamps["render"])
    whole = path.read_bytes()
    below = path.relative_to(filled.folder).as_posix()
    path.write_bytes(whole[: len(whole) // 2])
    assert check_home(filled).damaged == (below,)
    path.write_bytes(b"")
    assert check_home(filled).damaged == (below,)
    path.unlink()
    found = check_home(filled)
    assert (found.missing, found.is_whole, found.touched) == ((below,), False, (key("B/2.tif").digest,))
    assert waiting(filled, STAMPS, None) == []
    assert mend(filled, found) == 1
    assert [w.scan.path for w in waiting(filled, STAMPS, None)] == ["B/2.tif"]
    with filled.database.read() as connection:
        assert len(decisions.all_decisions(connection)) == 1
    after = check_home(filled)
    assert after.is_whole
    assert len(after.loose) == 3 if name in ("working", "thumb", "positive", "features") else 4


def test_a_file_that_no_row_names_is_told_and_does_no_harm(filled: Home) -> None:
    write_whole(filled.folder / "derivatives" / "ab" / "left over.jpg", JPEG)
    (filled.folder / "features" / ".half.kff.123").write_bytes(b"x")
    found = check_home(filled)
    assert found.is_whole
    assert found.loose == ("derivatives/ab/left over.jpg", "features/.half.kff.123")


def test_a_database_with_a_row_that_hangs_in_the_air_is_not_whole(filled: Home) -> None:
    with filled.database.write() as connection:
        connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        connection.exec_driver_sql("insert into member values ('F-NONE', 'd', 1, 'artwork', 1.0)")
        connection.exec_driver_sql("insert into family values ('F-NONE', 'suggested', '', '')")
    assert check_home(filled).is_whole
    raw = filled.database._writer.raw_connection()
    raw.execute("PRAGMA foreign_keys=OFF")
    raw.execute("delete from family")
    raw.close()
    found = check_home(filled)
    assert not found.is_whole
    assert "member" in found.flaws[0]


def test_originals_are_read_once_more(home: Home, tmp_path: Path) -> None:
    folder = tmp_path / "scans"
    names = ["B/same.tif", "B/altered.tif", "B/gone.tif"]
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(name.encode())
    files = [received(n, digest=digest_of(folder / n)) for n in names]
    Written(home).consignment(*files)
    with home.database.write() as connection:
        connection.exec_driver_sql(f"update consignment set folder = '{folder}'")
    assert check_home(home).originals is None
    found = check_home(home, originals=True)
    assert found.is_whole
    assert found.originals is not None
    assert found.originals.same == 3
    (folder / "B/altered.tif").write_bytes(b"another")
    (folder / "B/gone.tif").unlink()
    told: list[int] = []
    found = check_home(home, originals=True, tell=told.append)
    assert not found.is_whole
    assert found.originals is not None
    assert (found.originals.same, found.originals.altered) == (1, ("C: B/altered.tif",))
    assert found.originals.missing == ("C: B/gone.tif (No such file or directory)",)
    assert told == [1, 2, 3]


def test_a_backup_comes_back_row_by_row_and_byte_by_byte(filled: Home, tmp_path: Path) -> None:
    kept = backup(filled, tmp_path / "kept.tar")
    assert stat.S_IMODE((tmp_path / "kept.tar").stat().st_mode) == 0o600
    assert kept.files == 8
    assert restore(tmp_path / "kept.tar", tmp_path / "again") == kept
    again = Home(tmp_path / "again")
    assert differing(filled.database, again.database) == {}
    assert all_files(again) == all_files(filled)
    assert check_home(again).is_whole
    for path in (again.folder, *again.folder.rglob("*")):
        assert path.name.startswith("kinfold.db-") or not stat.S_IMODE(path.stat().st_mode) & 0o077, path
    again.database.close()


def test_a_backup_can_be_checked_without_us(filled: Home, tmp_path: Path) -> None:
    """By GNU tar and sha256sum, which know nothing of Kinfold."""
    backup(filled, tmp_path / "kept.tar")
    (tmp_path / "out").mkdir()
    subprocess.run(["tar", "-xf", tmp_path / "kept.tar", "-C", tmp_path / "out"], check=True)
    said = subprocess.run(
        ["sha256sum", "-c", "SHA256SUMS"], cwd=tmp_path / "out", capture_output=True, text=True, check=True
    )
    assert said.stdout.count(": OK\n") == 8


def test_a_backup_takes_one_state_while_others_write(filled: Home, tmp_path: Path) -> None:
    with filled.database.write() as connection:
        decisions.add_decision(connection, AT, "Ada", "confirm", [key("B/1.tif")], {})
        other = Home(filled.folder)
        backup(other, tmp_path / "kept.tar")
        other.database.close()
    restore(tmp_path / "kept.tar", tmp_path / "again")
    again = Home(tmp_path / "again")
    with again.database.read() as connection:
        assert len(decisions.all_decisions(connection)) == 1
    again.database.close()


def test_where_a_backup_may_not_go(filled: Home, tmp_path: Path) -> None:
    (tmp_path / "there").write_bytes(b"")
    with pytest.raises(UsageError, match="already"):
        backup(filled, tmp_path / "there")
    with pytest.raises(UsageError, match="home itself"):
        backup(filled, filled.folder / "kept.tar")
    with pytest.raises(HomeError, match="Nothing was left"):
        backup(filled, tmp_path / "no such folder" / "kept.tar")
    assert list(filled.scratch.iterdir()) == []


def test_where_a_backup_is_not_restored(filled: Home, tmp_path: Path) -> None:
    backup(filled, tmp_path / "kept.tar")
    with pytest.raises(UsageError, match="already"):
        restore(tmp_path / "kept.tar", filled.folder)
    (tmp_path / "empty").mkdir()
    restore(tmp_path / "kept.tar", tmp_path / "empty")
    with pytest.raises(HomeError, match="gone"):
        restore(tmp_path / "gone.tar", tmp_path / "new")
    assert not (tmp_path / "new").exists()


def rewritten(source: Path, to: Path, change: str) -> Path:
    """A backup with something wrong in it."""
    with tarfile.open(source) as old, tarfile.open(to, "w") as new:
        for member in old:
            data = old.extractfile(member)
            assert data is not None
            content = data.read()
            if change == "a byte" and member.name.endswith(".jpg"):
                content = content[:-3] + b"x" + content[-2:]
            if change == "a member less" and member.name.endswith(".kff"):
                continue
            if change == "no sums" and member.name == "SHA256SUMS":
                continue
            member.size = len(content)
            new.addfile(member, io.BytesIO(content))
        extra = {"out": "../evil.jpg", "deep": "derivatives/../../evil.jpg", "root": "/etc/evil", "strange": "evil"}
        if change in extra:
            new.addfile(tarfile.TarInfo(extra[change]), io.BytesIO(b""))
        if change == "link":
            link = tarfile.TarInfo("derivatives/ab/evil.jpg")
            link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
            new.addfile(link)
        if change == "twice":
            twin = tarfile.TarInfo("kinfold.db")
            new.addfile(twin, io.BytesIO(b""))
    return to


@pytest.mark.parametrize(
    "change", ["a byte", "a member less", "no sums", "out", "deep", "root", "strange", "link", "twice"]
)
def test_a_backup_that_is_not_as_it_was_is_refused_whole(filled: Home, tmp_path: Path, change: str) -> None:
    backup(filled, tmp_path / "kept.tar")
    bad = rewritten(tmp_path / "kept.tar", tmp_path / "bad.tar", change)
    with pytest.raises(UsageError, match="no whole backup"):
        restore(bad, tmp_path / "again")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.tar", "home", "kept.tar"]


def test_a_backup_that_was_cut_short_is_refused(filled: Home, tmp_path: Path) -> None:
    backup(filled, tmp_path / "kept.tar")
    data = (tmp_path / "kept.tar").read_bytes()
    for share in (0.0, 0.3, 0.7):
        (tmp_path / "cut.tar").write_bytes(data[: int(len(data) * share)])
        with pytest.raises(UsageError, match="no whole backup"):
            restore(tmp_path / "cut.tar", tmp_path / "again")
    assert hashlib.sha256((tmp_path / "kept.tar").read_bytes()).digest() == hashlib.sha256(data).digest()
