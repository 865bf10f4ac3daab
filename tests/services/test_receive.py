"""Receiving: hostile trees, names of every sort, and originals that are never touched."""

import hashlib
import os
import socket
import stat
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.config.receive import ReceiveRules
from intake.errors import UsageError
from intake.model import Received
from intake.services.home import Home
from intake.services.receive import Receipt, digest_of, receive
from intake.store import scans
from tests.made import CONFIG, section
from tests.nobody import as_nobody, shared_folder

RULES = section(ReceiveRules, CONFIG / "receive.toml")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "consignment"
    made.mkdir()
    return made


def put(folder: Path, name: str | bytes, content: bytes | None = None) -> Path:
    """A file below the folder; its content is its own name unless given."""
    path = Path(os.fsdecode(os.fsencode(folder) + b"/" + os.fsencode(name)))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(os.fsencode(name) if content is None else content)
    return path


def take(home: Home, folder: Path) -> Receipt:
    return receive(home, folder, "C", RULES)


def recorded(home: Home) -> dict[str, Received]:
    with home.database.read() as connection:
        return {r.path: r for r in scans.all_scans(connection, "C")}


def codes(receipt: Receipt) -> dict[str, str]:
    return {path: f.code for path, f in receipt.findings}


def snapshot(folder: Path) -> dict[str, tuple[int, int, int, bytes]]:
    """Mode, size, time of change and bytes of everything below a folder, links not followed."""
    made = {}
    for path in sorted(folder.rglob("*")):
        s = path.lstat()
        made[os.fsdecode(path)] = (
            s.st_mode, s.st_size, s.st_mtime_ns, path.read_bytes() if stat.S_ISREG(s.st_mode) else b""
        )  # fmt: skip
    return made


# ---- digests --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("message", "digest"),
    [
        # NIST, "Examples with Intermediate Values", SHA256.pdf: the two messages that FIPS 180-2 worked through.
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        # FIPS 180-2, appendix B.3: one million times "a"; more than one block of reading.
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
        # NIST CAVP, shabytetestvectors, SHA256ShortMsg.rsp: Len = 0 and Len = 8.
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"\xd3", "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1"),
    ],
)
def test_digest_is_sha_256_as_published(tmp_path: Path, message: bytes, digest: str) -> None:
    path = tmp_path / "message"
    path.write_bytes(message)
    assert digest_of(path) == digest


def test_digest_refuses_what_is_no_regular_file(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"x")
    (tmp_path / "link").symlink_to("real")
    os.mkfifo(tmp_path / "pipe")
    for name in ("link", "pipe", "nothing"):
        with pytest.raises(OSError):
            digest_of(tmp_path / name)


# ---- what is taken in, and under which name -------------------------------------------------------------------------


def test_boxes_are_first_level_folders_and_deeper_ones_keep_their_path(home: Home, folder: Path) -> None:
    for name in (
        "B01/0001.tif",
        "B01/lot 2/deeper still/0002 back.JPG",
        "0003.png",
        "x.tif/B02-17v.tiff",
        "B02/0004.TIF",
    ):
        put(folder, name)
    receipt = take(home, folder)
    assert {p: (r.box, r.piece, r.side) for p, r in recorded(home).items()} == {
        "0003.png": ("unboxed", "0003", "recto"),
        "B01/0001.tif": ("B01", "0001", "recto"),
        "B01/lot 2/deeper still/0002 back.JPG": ("B01", "0002", "verso"),
        "B02/0004.TIF": ("B02", "0004", "recto"),
        "x.tif/B02-17v.tiff": ("x.tif", "0017", "verso"),
    }
    assert (receipt.files, receipt.added, receipt.unchanged, receipt.findings) == (5, 5, 0, ())
    assert receipt.boxes == ("B01", "B02", "unboxed", "x.tif")


NAMES = [
    "B 1/a b  c .tif",
    'B1/it\'s "quoted".tif',
    "B1/two\nlines\t.tif",
    "B1/<script>alert(1)</script>.tif".replace("/script", "\u2215script"),
    "B1/$(touch gone); `id` & | > x.tif",
    "B1/--help.tif",
    "B1/-rf.tif",
    "B1/=1+1.tif",
    "B1/%2e%2e%2f..%5c.tif",
    "B1/..\\..\\up.tif",
    "B1/....tif",
    "B1/'; drop table scan; --.tif",
    "B1/{{7*7}}{% raw %}.tif",
    "B1/\u202egnp.fit.tif",
    "B1/\u05e9\u05dc\u05d5\u05dd \u0645\u0644\u0635\u0642.tif",
    "B1/\u6620\u753b\u30dd\u30b9\u30bf\u30fc \U0001f39e\ufe0f.tif",
    "B1/\x1b[31mred\x07.tif",
    "B1/\ufeffmark.tif",
    "B1/null\\x00.tif",
    "B1/CON.tif",
    "B1/.hidden.tif",
]


@pytest.mark.parametrize("name", NAMES)
def test_any_name_is_taken_in_under_itself(home: Home, folder: Path, name: str) -> None:
    put(folder, name)
    assert take(home, folder).added == 1
    (row,) = recorded(home).values()
    assert row.path == name
    assert row.box == name.split("/")[0]
    assert row.digest == hashlib.sha256(name.encode()).hexdigest()
    assert take(home, folder).added == 0


def test_names_equal_but_for_case_or_unicode_form_are_two_files(home: Home, folder: Path) -> None:
    composed, apart = (
        unicodedata.normalize("NFC", "B1/Z\u00fcrich.tif"),
        unicodedata.normalize("NFD", "B1/Z\u00fcrich.tif"),
    )
    for name in ("B1/sheet.tif", "B1/Sheet.tif", "B1/SHEET.TIF", composed, apart):
        put(folder, name)
    assert take(home, folder).added == 5
    rows = recorded(home)
    assert set(rows) == {"B1/sheet.tif", "B1/Sheet.tif", "B1/SHEET.TIF", composed, apart}
    # A box list is typed in one form, a file comes in the other: the piece is the same.
    assert rows[composed].piece == rows[apart].piece == unicodedata.normalize("NFC", "Z\u00fcrich")


def test_bytes_that_are_no_utf_8_are_written_down_and_found_again(home: Home, folder: Path) -> None:
    from intake.services.look import stored_path

    path = put(folder, b"B\xfc1/Gr\xfc\xdfe \xff.tif")
    assert take(home, folder).added == 1
    (row,) = recorded(home).values()
    assert (row.box, row.path) == ("B\\xfc1", "B\\xfc1/Gr\\xfc\\xdfe \\xff.tif")
    assert stored_path(folder, row.path) == path
    assert take(home, folder).added == 0


def test_a_name_that_looks_like_another_ones_bytes_does_not_hide_it(home: Home, folder: Path) -> None:
    put(folder, "B1/a\\xff.tif", b"written so")
    put(folder, b"B1/a\xff.tif", b"a byte")
    receipt = take(home, folder)
    assert (receipt.added, codes(receipt)) == (1, {"B1/a\\xff.tif": "name_twice"})
    assert recorded(home)["B1/a\\xff.tif"].digest == hashlib.sha256(b"written so").hexdigest()
    assert take(home, folder).added == 0


def test_longest_names_and_paths(home: Home, folder: Path) -> None:
    from intake.services.look import stored_path

    put(folder, "B1/" + "n" * 251 + ".tif")
    put(folder, b"B1/" + b"\xff" * 251 + b".tif")  # written down, this name is longer than any name may be
    levels = (4000 - len(os.fsencode(folder)) - 10) // 41
    put(folder, "B1/" + "/".join(["d" * 40] * (levels - 1)) + "/0001.tif")
    receipt = take(home, folder)
    assert (receipt.added, receipt.findings) == (3, ())
    for row in recorded(home).values():
        assert digest_of(stored_path(folder, row.path)) == row.digest


LEVELS = 2200


@pytest.fixture
def deep(folder: Path) -> Iterator[Path]:
    """A folder in a folder ... deeper than a path can say; removed the same way, since rmtree cannot go there."""
    place = os.open(folder, os.O_RDONLY)
    for _ in range(LEVELS):
        os.mkdir("d", dir_fd=place)
        below = os.open("d", os.O_RDONLY, dir_fd=place)
        os.close(place)
        place = below
    yield folder
    for _ in range(LEVELS):
        above = os.open("..", os.O_RDONLY, dir_fd=place)
        os.close(place)
        os.rmdir("d", dir_fd=above)
        place = above
    os.close(place)


def test_a_tree_deeper_than_any_path_is_taken_in_as_far_as_it_can_be_named(home: Home, deep: Path) -> None:
    put(deep, "B1/0001.tif")
    receipt = take(home, deep)
    assert receipt.added == 1
    ((path, finding),) = receipt.findings
    assert finding.code == "unreadable"
    assert path.endswith("/d/d/d")


# ---- what is not opened ---------------------------------------------------------------------------------------------


def test_links_pipes_sockets_and_devices_are_not_opened(home: Home, folder: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.tif").write_bytes(b"not ours")
    put(folder, "B1/0001.tif")
    (folder / "B1/out.tif").symlink_to(outside / "secret.tif")
    (folder / "B1/in.tif").symlink_to("0001.tif")
    (folder / "B1/nowhere.tif").symlink_to("gone")
    (folder / "B1/self.tif").symlink_to("self.tif")
    (folder / "B1/loop").symlink_to(folder)
    (folder / "out").symlink_to(outside)
    (folder / "up").symlink_to("..")
    os.mkfifo(folder / "B1/pipe.tif")
    expected = {
        f"B1/{n}" for n in ("out.tif", "in.tif", "nowhere.tif", "self.tif", "loop", "pipe.tif", "socket.tif")
    } | {"out", "up"}  # fmt: skip
    if os.geteuid() == 0:
        try:
            os.mknod(folder / "B1/zero.tif", stat.S_IFCHR | 0o666, os.makedev(1, 5))
            expected.add("B1/zero.tif")
        except PermissionError:  # a container may keep even root from making one
            pass
    before = Path.cwd()
    os.chdir(folder / "B1")  # a socket's own path may be no longer than 107 bytes
    try:
        with socket.socket(socket.AF_UNIX) as s:
            s.bind("socket.tif")
            receipt = take(home, folder)
    finally:
        os.chdir(before)
    assert {path for path, code in codes(receipt).items() if code == "not_opened"} == expected
    assert set(recorded(home)) == {"B1/0001.tif"}
    assert all(not f.message.startswith("is no link") and f.severity == "attention" for _, f in receipt.findings)


def test_other_files_are_noted_and_left_alone(home: Home, folder: Path) -> None:
    for name in (
        "B1/0001.tif",
        "B1/notes.txt",
        "B1/Thumbs.db",
        "B1/.DS_Store",
        "B1/tif",
        "B1/.tif",
        "B1/0001.tif.part",
    ):
        put(folder, name)
    receipt = take(home, folder)
    assert set(recorded(home)) == {"B1/0001.tif"}
    assert codes(receipt) == dict.fromkeys(("B1/notes.txt", "B1/tif", "B1/.tif", "B1/0001.tif.part"), "not_a_scan")


def test_what_cannot_be_read_is_found_and_the_rest_comes_in() -> None:
    def act() -> None:
        home = Home(place / "home" / "mine")
        receipt = take(home, place / "in")
        assert codes(receipt) == {"B1/shut.tif": "unreadable", "B2": "unreadable"}, receipt
        assert set(recorded(home)) == {"B1/0001.tif"}
        home.database.close()

    with shared_folder() as place:
        (place / "home").mkdir()
        (place / "home").chmod(0o777)
        for name in ("in/B1/0001.tif", "in/B1/shut.tif", "in/B2/0002.tif"):
            put(place, name)
        (place / "in/B1/shut.tif").chmod(0)
        (place / "in/B2").chmod(0)
        as_nobody(act)
        (place / "in/B2").chmod(0o755)


def test_a_file_that_goes_away_while_it_is_received_is_a_finding(home: Home, folder: Path) -> None:
    put(folder, "B1/0001.tif")
    second = put(folder, "B1/0002.tif")
    receipt = receive(home, folder, "C", RULES, tell=lambda _: second.unlink(missing_ok=True))
    assert (receipt.added, codes(receipt)) == (1, {"B1/0002.tif": "unreadable"})


def test_an_empty_file_is_received(home: Home, folder: Path) -> None:
    put(folder, "B1/0001.tif", b"")
    take(home, folder)
    assert recorded(home)["B1/0001.tif"].size_bytes == 0


# ---- again ----------------------------------------------------------------------------------------------------------


def test_receiving_again_adds_only_what_is_new(home: Home, folder: Path) -> None:
    put(folder, "B1/0001.tif")
    assert take(home, folder).added == 1
    again = take(home, folder)
    assert (again.files, again.added, again.unchanged) == (1, 0, 1)
    put(folder, "B1/0002.tif")
    third = take(home, folder)
    assert (third.files, third.added, third.unchanged, third.boxes) == (2, 1, 1, ("B1",))


def test_a_changed_file_is_found_and_the_first_stays_on_record(home: Home, folder: Path) -> None:
    path = put(folder, "B1/0001.tif", b"first")
    take(home, folder)
    first = recorded(home)
    path.write_bytes(b"later")
    receipt = take(home, folder)
    assert (receipt.added, receipt.unchanged, codes(receipt)) == (0, 0, {"B1/0001.tif": "changed_file"})
    assert recorded(home) == first
    path.write_bytes(b"first")
    assert take(home, folder).findings == ()
    with home.database.read() as connection:
        assert scans.receipt_findings(connection, "C") == []


def test_the_received_folder_is_as_it_was(home: Home, folder: Path) -> None:
    for name in ("B1/0001.tif", "B1/more/0002.tif", "loose.jpg", "B1/notes.txt"):
        os.utime(put(folder, name), ns=(10**18, 10**18 + 7))
    (folder / "B1/link.tif").symlink_to("0001.tif")
    before = snapshot(folder)
    take(home, folder)
    take(home, folder)
    assert snapshot(folder) == before


def test_a_folder_that_may_only_be_read_is_received() -> None:
    def act() -> None:
        home = Home(place / "home" / "mine")
        assert take(home, place / "in").added == 2
        home.database.close()

    with shared_folder() as place:
        (place / "home").mkdir()
        (place / "home").chmod(0o777)
        for name in ("in/B1/0001.tif", "in/B1/0002.tif"):
            put(place, name).chmod(0o444)
        (place / "in/B1").chmod(0o555)
        (place / "in").chmod(0o555)
        as_nobody(act)


def test_a_folder_that_moved_is_known_but_another_one_is_not_taken_for_it(
    home: Home, folder: Path, tmp_path: Path
) -> None:
    put(folder, "B1/0001.tif")
    take(home, folder)
    moved = folder.rename(tmp_path / "moved")
    assert take(home, moved).added == 0
    other = tmp_path / "second delivery"
    put(other, "B2/0001.tif")
    with pytest.raises(UsageError, match=r"received from .*moved.*B1/0001\.tif.*code of its own"):
        take(home, other)
    assert set(recorded(home)) == {"B1/0001.tif"}


def test_two_consignments_may_hold_the_same_names(home: Home, folder: Path) -> None:
    put(folder, "B1/0001.tif")
    assert receive(home, folder, "C", RULES).added == receive(home, folder, "D", RULES).added == 1


def test_references_are_marked(home: Home, folder: Path) -> None:
    put(folder, "Reference/page 3.jpg")
    put(folder, "B1/reference.jpg")
    take(home, folder)
    assert {p: r.is_reference for p, r in recorded(home).items()} == {
        "Reference/page 3.jpg": True,
        "B1/reference.jpg": False,
    }


# ---- refusals -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["", "  ", "x" * 121, "a\nb", "a\x1b[0m", "\udcff"])
def test_a_code_that_cannot_stand_in_a_table_is_refused(home: Home, folder: Path, code: str) -> None:
    with pytest.raises(UsageError, match="--consignment"):
        receive(home, folder, code, RULES)


def test_a_folder_that_is_none_or_holds_the_home_or_cannot_be_named_is_refused(home: Home, folder: Path) -> None:
    with pytest.raises(UsageError, match="not a folder"):
        take(home, put(folder, "file.tif"))
    with pytest.raises(UsageError, match="not a folder"):
        take(home, folder / "missing")
    with pytest.raises(UsageError, match="home"):
        take(home, home.folder.parent)
    unnamable = put(folder, b"\xff/0001.tif").parent
    with pytest.raises(UsageError, match="UTF-8"):
        take(home, unnamable)


# ---- names, whatever they are ---------------------------------------------------------------------------------------

STEMS = st.one_of(
    st.text(max_size=230),
    st.from_regex(r"\A(?:2026-0?14|B\d{1,3}|box ?\d|\d{1,6})[_ -]?[\w -]{0,20}(?: ?\(\d{1,3}\))?\Z"),
)


@given(stem=STEMS)
def test_reading_a_name_never_fails_and_tells_a_side_of_the_model(stem: str) -> None:
    read = RULES.name_parts(stem)
    if read is not None:
        piece, side = read
        assert piece in stem.replace(" ", "") or piece.lstrip("0").lower() in stem.lower() or set(piece) == {"0"}
        assert not set(piece) & set("/\\.\0")
        assert side in ("recto", "verso", "detail", "unknown")


@given(
    number=st.integers(0, 99999),
    side=st.sampled_from([("r", "recto"), ("back", "verso"), ("v", "verso"), ("FRONT", "recto")]),
)
def test_one_piece_has_one_name_whoever_named_its_file(number: int, side: tuple[str, str]) -> None:
    word, expected = side
    wanted = (f"{number:04}", expected)
    assert RULES.name_parts(f"2026-014_B03_{number:05}_{word}") == wanted
    assert RULES.name_parts(f"B03-{number}{word}") == wanted
    assert RULES.name_parts(f"{number:05} {word} (2)") == wanted
