"""A consignment is taken back: nothing of it is left but the account; the other owner's pieces stay as they were."""

from pathlib import Path

import pytest

from intake.errors import UsageError
from intake.services.export import export
from intake.services.home import Home
from intake.services.places import move_piece
from intake.services.tables import TABLES, table
from intake.services.withdrawing import withdraw
from intake.store import decisions
from tests.made import SETTINGS
from tests.services.handover.archive import SECRET, Archive, accepted, archive, confirmed


@pytest.fixture
def made(home: Home, tmp_path: Path) -> Archive:
    return confirmed(accepted(archive(home, tmp_path / "in"), "sheet"))


def test_nothing_is_left_but_the_account(made: Archive, tmp_path: Path) -> None:
    move_piece(made.home, "D", "B1", "0009", "shelf 1", "Ida")
    pyramids = made.home.folder / "pyramids"
    pyramids.mkdir(exist_ok=True)
    (pyramids / f"{made.keys['other'].digest}-1-0-0-0-9-9-256q90.tif").write_bytes(b"looked at")
    account = withdraw(made.home, SETTINGS, "D", "Ida", "the owner's letter")
    assert account.account["removed"]["pieces"] == 1 and account.account["files"] == [made.keys["other"].digest]
    for name in TABLES:
        if name != "withdrawals":
            export(made.home, SETTINGS, name, tmp_path / "t.csv")
            assert SECRET not in (tmp_path / "t.csv").read_text() and "0009" not in (tmp_path / "t.csv").read_text(), (
                name
            )
    ((code, _, who, why, removed, files),) = table(made.home, SETTINGS, "withdrawals")[1]
    assert (code, who, why) == ("D", "Ida", "the owner's letter") and "1 scans" in removed
    assert files == made.keys["other"].digest
    assert not [p for p in made.home.folder.rglob("*") if made.keys["other"].digest in p.name]
    assert SECRET.encode() not in b"".join(p.read_bytes() for p in made.home.folder.glob("kinfold.db"))
    assert (made.folder / "d/B1/0009.tif").is_file(), "the owner's own files are not ours"


def test_the_other_owners_pieces_and_every_ruling_stay(made: Archive) -> None:
    with made.home.database.read() as connection:
        ruled = decisions.all_decisions(connection)
    family = made.family()
    withdraw(made.home, SETTINGS, "D", "Ida", "the owner's letter")
    assert made.family() == family and len(table(made.home, SETTINGS, "scans")[1]) == 5
    with made.home.database.read() as connection:
        assert decisions.all_decisions(connection) == ruled
    assert made.home.picture(made.keys["sheet"], "thumb", "stamp-of-render").is_file()


def test_what_was_left_by_a_crash_goes_when_asked_again(made: Archive) -> None:
    withdraw(made.home, SETTINGS, "D", "Ida", "the owner's letter")
    left = made.home.picture(made.keys["other"], "thumb", "stamp-of-render")
    left.write_bytes(b"left")
    withdraw(made.home, SETTINGS, "D", "Ida", "again")
    assert not left.exists()
    assert len(table(made.home, SETTINGS, "withdrawals")[1]) == 1


def test_refusals(made: Archive) -> None:
    with pytest.raises(UsageError, match="no such consignment"):
        withdraw(made.home, SETTINGS, "X", "Ida", "a letter")
    with pytest.raises(UsageError, match="on whose word"):
        withdraw(made.home, SETTINGS, "D", "Ida", " ")
    for piece, to, who in (
        ("none", "shelf", "Ida"),
        ("0001", "", "Ida"),
        ("0001", "shelf", ""),
        ("0001", "x" * 200, "Ida"),
    ):
        with pytest.raises(UsageError):
            move_piece(made.home, "C", "B1", piece, to, who)
    move_piece(made.home, "C", "B1", "0001", "shelf", "Ida")
    with pytest.raises(UsageError, match="already"):
        move_piece(made.home, "C", "B1", "0001", "shelf", "Ida")
