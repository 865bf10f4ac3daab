"""Bags: by the rules of RFC 8493, read by its authors' library, and received back into an empty home."""

import hashlib
import os
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from xml.etree import ElementTree as ET

import bagit
import pytest

from intake.errors import HomeError, UsageError
from intake.services.export import export
from intake.services.handover.bag import export_bag, instant
from intake.services.handover.bagit_form import is_safe, manifest, read_manifest
from intake.services.handover.copying import Copier, CopiesBeside
from intake.services.handover.premis import CODES
from intake.services.handover.record import Wanted
from intake.services.handover.unbag import read_bag, receive_bag
from intake.services.home import Home
from intake.services.places import move_piece
from intake.services.tables import TABLES
from intake.store import carry, decisions
from intake.store.schema import metadata
from tests.made import AT, SETTINGS
from tests.services.handover.archive import LETTER, SECRET, Archive, accepted, archive

ALL = Wanted(with_documents=True)


@pytest.fixture(scope="module")
def bag_once(ruled_archive: Archive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bagged")
    home = Home(shutil.copytree(ruled_archive.home.folder, folder / "home"))
    export_bag(home, SETTINGS, folder / "bag", ALL, AT)
    home.database.close()
    return folder / "bag"


@pytest.fixture
def bag(bag_once: Path, tmp_path: Path) -> Path:
    return shutil.copytree(bag_once, tmp_path / "bag")


@pytest.fixture
def other(tmp_path: Path) -> Home:
    return Home(tmp_path / "other")


def content(folder: Path) -> bytes:
    return b"\n".join(p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file())


def test_a_manifest_whose_digest_is_known() -> None:
    """Worked beforehand with sha256sum: data/a.txt holds "hello\\n", data/b.txt "front of sheet\\n"."""
    files = {"data/b.txt": b"front of sheet\n", "data/a.txt": b"hello\n"}
    text = manifest((path, hashlib.sha256(data).hexdigest()) for path, data in files.items())
    assert len(text.encode()) == 154
    assert (
        hashlib.sha256(text.encode()).hexdigest() == "fa64610cf33ee1ddc0b2dc5dab0f509aac26a231603813d08483b65cc870dd44"
    )


def test_both_digests_in_one_read(tmp_path: Path) -> None:
    """ "abc": FIPS 180-4 examples of NIST; larger than a block: hashlib."""
    (tmp_path / "abc").write_bytes(b"abc")
    big = os.urandom((1 << 22) + 12345)
    (tmp_path / "big").write_bytes(big)
    with Copier() as copier:
        abc = copier.copy(tmp_path / "abc", None)
        found = copier.copy(tmp_path / "big", tmp_path / "copy")
    assert abc.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert abc.sha512.startswith("ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a")
    assert found == (hashlib.sha256(big).hexdigest(), hashlib.sha512(big).hexdigest(), len(big))
    assert (tmp_path / "copy").read_bytes() == big


def test_the_authors_library_finds_it_sound(bag: Path) -> None:
    """bagit, the Library of Congress's own reader of the format."""
    read = bagit.Bag(str(bag))
    assert read.validate() and set(read.algorithms) == {"sha256", "sha512"}
    assert (bag / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    payload = [p for p in (bag / "data").rglob("*") if p.is_file()]
    assert read.info["Payload-Oxum"] == f"{sum(p.stat().st_size for p in payload)}.{len(payload)}"


def test_the_same_ledger_gives_the_same_bag(made: Archive, bag: Path, tmp_path: Path) -> None:
    export_bag(made.home, SETTINGS, tmp_path / "again", ALL, AT)
    assert content(tmp_path / "again") == content(bag)


def test_received_back_into_an_empty_home_it_gives_the_same_tables(made: Archive, other: Home, tmp_path: Path) -> None:
    move_piece(made.home, "C", "B1", "0001", "the studio", "Ida", "sale pictures")
    export_bag(made.home, SETTINGS, tmp_path / "bag", ALL, AT)
    got = receive_bag(other, tmp_path / "bag")
    assert got.rows > 50
    for name in TABLES:
        export(made.home, SETTINGS, name, tmp_path / "before.csv")
        export(other, SETTINGS, name, tmp_path / "after.csv")
        assert (tmp_path / "before.csv").read_bytes() == (tmp_path / "after.csv").read_bytes(), name
    with made.home.database.read() as one, other.database.read() as two:
        assert decisions.all_decisions(one) == decisions.all_decisions(two)
    for path in (made.folder / "c").rglob("*.tif"):
        assert (other.folder / "received/C" / path.relative_to(made.folder / "c")).read_bytes() == path.read_bytes()
    for key in made.keys.values():
        assert other.picture(key, "working", "stamp-of-render").is_file()
    export_bag(other, SETTINGS, tmp_path / "bag of it", ALL, AT)  # and from there on again
    assert bagit.Bag(str(tmp_path / "bag of it")).validate()


def test_the_bag_of_a_family_or_consignment_holds_nothing_else(made: Archive, tmp_path: Path) -> None:
    accepted(made, "letter")
    export_bag(made.home, SETTINGS, tmp_path / "f", Wanted("C", made.family()), AT)
    export_bag(made.home, SETTINGS, tmp_path / "c", Wanted("C"), AT)
    letter, theirs = (made.keys[n].digest.encode() for n in ("letter", "other"))
    for name in ("f", "c"):
        held = content(tmp_path / name) + b"\n".join(str(p).encode() for p in (tmp_path / name).rglob("*"))
        assert SECRET.encode() not in held and theirs not in held and LETTER.encode() not in held and letter not in held
        assert bagit.Bag(str(tmp_path / name)).validate()
    assert len(list((tmp_path / "f/data/originals").iterdir())) == 4  # the back of the sheet too


def test_premis_events_are_of_the_vocabulary_and_tell_each_thing_done(made: Archive, bag: Path) -> None:
    """Event types: vocabulary of the Library of Congress, id.loc.gov/vocabulary/preservation/eventType."""
    name = "{http://www.loc.gov/premis/v3}"
    root = ET.parse(bag / "data/premis.xml").getroot()
    assert root.get("version") == "3.0"
    events = root.findall(f"{name}event")
    types = {e.findtext(f"{name}eventType") for e in events}
    assert types == set(CODES)
    (sheet,) = [o for o in root.findall(f"{name}object") if o.findtext(f"{name}originalName") == "B1/0002.tif"]
    digest = sheet.findtext(f".//{name}objectIdentifierValue")
    assert digest == made.keys["sheet"].digest
    of_it = [e for e in events if e.findtext(f".//{name}linkingObjectIdentifierValue") == digest]
    assert {"capture", "ingestion", "validation", "fixity check", "appraisal"} <= {
        e.findtext(f"{name}eventType") for e in of_it
    }
    order = [c.tag.removeprefix(name).removeprefix("event") for c in events[0]]
    assert order == ["Identifier", "Type", "DateTime", "DetailInformation", "OutcomeInformation",
                     "linkingAgentIdentifier", "linkingObjectIdentifier"]  # fmt: skip
    assert instant("2026:11:01 10:20:30") == "2026-11-01T10:20:30" and instant("Tuesday") == ""


def _swap(bag: Path, name: str, old: str, new: str) -> None:
    """Change a manifest, and its own digests with it, as one would who means harm."""
    path = bag / name
    path.write_text(path.read_text().replace(old, new, 1))
    for a in ("sha256", "sha512"):
        tags = bag / f"tagmanifest-{a}.txt"
        lines = [x for x in tags.read_text().splitlines() if not x.endswith(f"  {name}")]
        lines.append(f"{getattr(hashlib, a)(path.read_bytes()).hexdigest()}  {name}")
        tags.write_text("\n".join(lines) + "\n")


def _original(bag: Path) -> Path:
    return sorted((bag / "data/originals").iterdir())[0]


def _damage(bag: Path) -> None:
    _original(bag).write_bytes(b"other")


def _add(bag: Path) -> None:
    (bag / "data/extra").write_text("x")


def _lose(bag: Path) -> None:
    _original(bag).unlink()


def _link(bag: Path) -> None:
    path = _original(bag)
    path.unlink()
    path.symlink_to("/etc/hostname")


def _climb(bag: Path) -> None:
    _swap(bag, "manifest-sha256.txt", "  data/alto", "  data/../../alto")


def _twice(bag: Path) -> None:
    line = (bag / "manifest-sha512.txt").read_text().splitlines()[0]
    _swap(bag, "manifest-sha512.txt", line, f"{line}\n{line}")


def _tags(bag: Path) -> None:
    (bag / "bag-info.txt").write_text("Payload-Oxum: 1.1\n")


def _version(bag: Path) -> None:
    (bag / "bagit.txt").write_text("BagIt-version: 1.0\nTag-File-Character-Encoding: UTF-8\n")


def _rows(bag: Path) -> None:
    """A scan that would be written outside the home; every digest fits."""
    path = bag / "data/ledger/scan.jsonl"
    old = path.read_bytes()
    path.write_bytes(old.replace(b'"path": "B1/0001.tif"', b'"path": "../../../0001.tif"'))
    assert path.read_bytes() != old
    for a in ("sha256", "sha512"):
        of = getattr(hashlib, a)
        _swap(bag, f"manifest-{a}.txt", of(old).hexdigest(), of(path.read_bytes()).hexdigest())


@pytest.mark.parametrize("harm", [_damage, _add, _lose, _link, _climb, _twice, _tags, _version, _rows])
def test_a_bag_that_is_not_sound_is_refused_and_leaves_nothing(
    bag: Path, other: Home, harm: Callable[[Path], None]
) -> None:
    harm(bag)
    with pytest.raises(UsageError):
        receive_bag(other, bag)
    with other.database.read() as connection:
        assert carry.is_empty(connection)
    assert not [p for p in other.folder.rglob("*") if p.is_file() and not p.name.startswith("kinfold.db")]


def test_a_home_that_holds_something_takes_no_bag(made: Archive, bag: Path) -> None:
    with pytest.raises(UsageError, match="empty home"):
        receive_bag(made.home, bag)


def test_paths_that_are_refused() -> None:
    """RFC 8493, section 5.1."""
    assert is_safe("data/a b/ü%.tif")
    for path in (
        "",
        "/a",
        "~/a",
        "data/../a",
        "data//a",
        "C:/a",
        "data/./a",
        "data/a\\b",
        "data/\0",
        "data/" + "x" * 256,
    ):
        assert not is_safe(path), path


def test_percent_encoding_goes_there_and_back(tmp_path: Path) -> None:
    """RFC 8493, section 2.1.3: CR, LF and % alone."""
    path = "data/100%\r\n ü.tif"
    (tmp_path / "m").write_text(manifest([(path, "a" * 64)]))
    assert (tmp_path / "m").read_text() == f"{'a' * 64}  data/100%25%0D%0A ü.tif\n"
    assert read_manifest(tmp_path / "m", "sha256", True) == {path: "a" * 64}


def test_an_original_that_is_gone_or_changed_makes_no_bag(home: Home, tmp_path: Path) -> None:
    made = archive(home, tmp_path / "in")
    (made.folder / "c/B1/0001.tif").write_bytes(b"changed")
    with pytest.raises(UsageError, match="not the file that was received"):
        export_bag(made.home, SETTINGS, tmp_path / "bag")
    (made.folder / "c/B1/0001.tif").unlink()
    with pytest.raises(UsageError, match="not there any more"):
        export_bag(made.home, SETTINGS, tmp_path / "bag")
    assert not [p for p in tmp_path.iterdir() if "bag" in p.name]


@contextmanager
def no_file_larger_than(size: int) -> Iterator[None]:
    """What the kernel refuses to write; processes started here inherit it (setrlimit(2))."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_disk_that_takes_no_more_leaves_nothing(home: Home, tmp_path: Path) -> None:
    made = archive(home, tmp_path / "in")
    scan = made.folder / "c/B1/0002.tif"
    with scan.open("ab") as file:  # past all that is made beside the copies
        file.truncate(1_000_000)
    with no_file_larger_than(900_000), pytest.raises(HomeError, match="File too large"):
        export_bag(made.home, SETTINGS, tmp_path / "bag")
    assert not [p for p in tmp_path.iterdir() if "bag" in p.name]


def test_copies_beside_tell_what_was_copied_before_it_failed_and_why(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    (tmp_path / "b\n\udcff").write_bytes(b"x")  # a name that is no UTF-8
    jobs = [(tmp_path / n, tmp_path / "to" / str(k)) for k, n in enumerate(("a", "b\n\udcff", "none", "a"))]
    with CopiesBeside(jobs) as copies:
        made, error = copies.answers()
    assert [d.size for d in made] == [3, 1] and made[0].sha256 == hashlib.sha256(b"abc").hexdigest()
    assert isinstance(error, FileNotFoundError)
    assert sorted(p.name for p in (tmp_path / "to").iterdir()) == ["0", "1"]
    with CopiesBeside([]) as copies:
        assert copies.answers() == ([], None)


_ENDLESS = """
from pathlib import Path
from intake.services.handover.copying import CopiesBeside
with CopiesBeside((Path("a"), Path(f"to/{n}")) for n in range(50_000)) as copies:
    print(copies._process.pid, flush=True)
    copies.answers()
"""


def test_copies_end_with_the_process_that_asked_for_them(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    pipe, ours = subprocess.PIPE, {**os.environ, "PYTHONPATH": str(Path.cwd())}
    with subprocess.Popen([sys.executable, "-c", _ENDLESS], cwd=tmp_path, stdout=pipe, text=True, env=ours) as asking:
        assert asking.stdout
        copier = Path("/proc", asking.stdout.readline().strip(), "stat")
        while not (tmp_path / "to").exists():
            time.sleep(0.01)
        asking.kill()
    while copier.exists() and copier.read_text().rpartition(")")[2].split()[0] != "Z":
        time.sleep(0.01)
    assert len(list((tmp_path / "to").iterdir())) < 50_000


def test_nothing_is_written_over(made: Archive, bag: Path) -> None:
    with pytest.raises(UsageError, match="there already"):
        export_bag(made.home, SETTINGS, bag)
    assert set(read_bag(bag)) == {"sha256", "sha512"}


def test_every_table_is_carried_or_said_not_to_be() -> None:
    """Secrets, what the desk has open, the tables' version stay; what else is derived comes with the next grouping."""
    stay = {"alembic_version", "desk_user", "desk_session", "on_table", "withdrawal", "related", "looked_at", "outbox"}
    assert set(metadata.tables) - set(carry.ORDER) == stay
