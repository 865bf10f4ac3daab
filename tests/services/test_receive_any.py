"""Receiving any tree: whatever lies in it, every scan that can be named is taken in once, and nothing else is read."""

import os
import stat
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from intake.config.receive import ReceiveRules
from intake.services.home import Home
from intake.services.receive import digest_of, receive
from intake.store import scans
from tests.made import CONFIG, section

RULES = section(ReceiveRules, CONFIG / "receive.toml")
# Case pairs, both Unicode forms of one letter, a byte that is no UTF-8, its written form, controls, a turning mark.
PIECES = [
    b"a",
    b"A",
    "é".encode(),
    "e\u0301".encode(),
    b"\xff",
    b"\\xff",
    b"\n",
    b"\x1b[31m",
    "\u202e".encode(),
    b"..",
    b" ",
]
names = st.lists(st.sampled_from(PIECES), min_size=1, max_size=3).map(b"".join).filter(lambda n: n not in (b".", b".."))
kinds = st.sampled_from(["scan", "scan", "scan", "note", "folder", "out", "loop", "dead", "fifo"])
trees = st.lists(st.tuples(st.lists(names, min_size=1, max_size=3), kinds), max_size=12)
SECRET = b"not ours"


def grow(folder: Path, tree: list[tuple[list[bytes], str]], outside: Path) -> None:
    """Make what can be made of it: where a name is taken, the first stays."""
    for number, (parts, kind) in enumerate(tree):
        *above, name = map(os.fsdecode, parts)
        place = folder.joinpath(*above)
        path = place / f"{name}.tif"
        try:
            place.mkdir(parents=True, exist_ok=True)
            if kind == "scan":
                with path.open("xb") as file:
                    file.write(b"scan %d" % number)
            elif kind == "note":
                (place / f"{name}.txt").touch()
            elif kind == "folder":
                (place / name).mkdir(exist_ok=True)
            elif kind == "fifo":
                os.mkfifo(path)
            else:
                path.symlink_to({"out": outside, "loop": folder, "dead": Path("nowhere")}[kind])
        except (FileExistsError, NotADirectoryError):
            continue


def listing(folder: Path) -> dict[Path, tuple[int, int, int]]:
    """Everything below, followed nowhere: mode, size and time of change."""
    found = {}
    for place, folders, files in os.walk(folder):
        for name in (*folders, *files):
            path = Path(place) / name
            status = path.lstat()
            found[path] = (status.st_mode, status.st_size, status.st_mtime_ns)
    return found


@settings(max_examples=30)
@given(trees)
def test_any_tree(tree: list[tuple[list[bytes], str]]) -> None:
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        (place / "outside").mkdir()
        (place / "outside" / "secret.tif").write_bytes(SECRET)
        folder = place / "scans"
        folder.mkdir()
        grow(folder, tree, place / "outside")
        before = listing(folder)
        files = [p for p, (mode, _, _) in before.items() if stat.S_ISREG(mode) and p.suffix == ".tif"]
        home = Home(place / "home")
        receipt = receive(home, folder, "C", RULES)
        again = receive(home, folder, "C", RULES)
        with home.database.read() as connection:
            taken = scans.all_scans(connection, "C")
        home.database.close()
        assert listing(folder) == before
        twins = sum(f.code == "name_twice" for _, f in receipt.findings)
        assert (receipt.added, again.added) == (len(files) - twins, 0)
        assert len({s.path for s in taken}) == len(taken) == receipt.added
        assert {s.digest for s in taken} <= {digest_of(p) for p in files}
        secret = digest_of(place / "outside" / "secret.tif")
        assert secret not in {s.digest for s in taken}
