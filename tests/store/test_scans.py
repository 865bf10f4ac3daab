"""Consignments, scans, lists, findings of receipt, moves and permissions: on both databases."""

import random
import string

import pytest
from sqlalchemy.exc import IntegrityError

from intake.model import Finding, Listed
from intake.store import moves, relations, scans
from intake.store.database import Database
from tests.made import AT, received


@pytest.fixture
def with_c(database: Database) -> Database:
    with database.write() as connection:
        scans.put_consignment(connection, "C", "/first", AT, False)
    return database


def test_scans_come_back_by_consignment_and_path(with_c: Database) -> None:
    made = [received("b/2.tif"), received("B/1.tif"), received("a 'x'/\u00e9\n.tif", is_reference=True, side="verso")]
    other = received("B/1.tif", consignment="A")
    with with_c.write() as connection:
        scans.put_consignment(connection, "A", "/a", AT, True)
        scans.add_scans(connection, [(r, 1_700_000_000_123_456_789) for r in (*made, other)], AT)
        scans.add_scans(connection, [], AT)
    with with_c.read() as connection:
        assert scans.all_scans(connection) == [other, *sorted(made, key=lambda r: r.path)]
        assert scans.all_scans(connection, "A") == [other]
        assert scans.all_scans(connection, "none") == []
        assert scans.scans_of(connection, [other.digest, made[0].digest]) == [other, made[1], made[0]]
        assert scans.scans_of(connection, []) == []
        known = scans.known_files(connection, "C")
        assert known["B/1.tif"] == scans.KnownFile(made[1].digest, 10, 1_700_000_000_123_456_789)
        assert len(known) == 3


def test_very_long_paths_and_very_large_files(with_c: Database) -> None:
    noise = random.Random(0)
    path = "/".join("".join(noise.choices(string.ascii_letters + "\u00fc\u6620", k=80)) for _ in range(36)) + ".tif"
    assert 3000 < len(path.encode()) < 4096
    scan = received(path, size_bytes=5_000_000_000)
    finding = Finding("receive", "changed_file", "attention", "words")
    with with_c.write() as connection:
        scans.add_scans(connection, [(scan, 1)], AT)
        scans.replace_receipt_findings(connection, "C", [(path, finding)], AT)
    with with_c.read() as connection:
        assert scans.all_scans(connection) == [scan]
        assert scans.receipt_findings(connection, "C") == [(path, finding)]


def test_one_name_is_taken_in_once(with_c: Database) -> None:
    with with_c.write() as connection:
        scans.add_scans(connection, [(received("B/1.tif"), 1)], AT)
    with pytest.raises(IntegrityError), with_c.write() as connection:
        scans.add_scans(connection, [(received("B/2.tif"), 1), (received("B/1.tif", digest="0" * 64), 1)], AT)
    with with_c.read() as connection:
        assert [r.path for r in scans.all_scans(connection)] == ["B/1.tif"]


def test_a_scan_belongs_to_a_consignment_that_is_there(database: Database) -> None:
    with pytest.raises(IntegrityError), database.write() as connection:
        scans.add_scans(connection, [(received("B/1.tif"), 1)], AT)


def test_a_consignment_keeps_its_list_and_its_date_and_follows_its_folder(with_c: Database) -> None:
    with with_c.write() as connection:
        scans.put_consignment(connection, "C", "/second", "later", True)
        scans.put_consignment(connection, "C", "/third", "later", False)
        moves.permit(connection, "C", True)
    with with_c.read() as connection:
        assert scans.consignments(connection) == [scans.ConsignmentRow("C", "/third", AT, True, True)]


def test_a_new_list_takes_the_place_of_the_old_in_its_own_order(with_c: Database) -> None:
    first = [Listed("B", "0002", "two", 2), Listed("B", "0001", "one", 1, True, "stuck"), Listed("B", "0001")]
    with with_c.write() as connection:
        scans.replace_list(connection, "C", first)
    with with_c.read() as connection:
        assert scans.listed_pieces(connection, "C") == first
    with with_c.write() as connection:
        scans.replace_list(connection, "C", [])
    with with_c.read() as connection:
        assert scans.listed_pieces(connection, "C") == []


def test_findings_of_receipt_are_those_of_the_newest(with_c: Database) -> None:
    unreadable = Finding("receive", "unreadable", "failure", "cannot be read")
    changed = Finding("receive", "changed_file", "attention", "first words")
    newer = Finding("receive", "changed_file", "attention", "newer words")
    with with_c.write() as connection:
        scans.replace_receipt_findings(connection, "C", [("b", unreadable), ("a", changed), ("a", newer)], AT)
    with with_c.read() as connection:
        assert scans.receipt_findings(connection, "C") == [("a", newer), ("b", unreadable)]
    with with_c.write() as connection:
        scans.replace_receipt_findings(connection, "C", [], AT)
    with with_c.read() as connection:
        assert scans.receipt_findings(connection, "C") == []


def test_a_piece_is_where_it_was_last_moved(with_c: Database) -> None:
    with with_c.write() as connection:
        assert moves.place_of(connection, "C", "B1", "0001") == "box B1"
        moves.add_move(connection, "C", "B1", "0001", ("box B1", "light table"), AT, "Ada")
        moves.add_move(connection, "C", "B1", "0002", ("box B1", "freezer"), AT, "Ada")
        moves.add_move(connection, "C", "B1", "0001", ("light table", "framer"), AT, "Ben")
        assert moves.place_of(connection, "C", "B1", "0001") == "framer"
        assert moves.place_of(connection, "C", "B1", "0003") == "box B1"


def test_what_people_state_of_two_pieces_is_found_from_either_side(database: Database) -> None:
    with database.write() as connection:
        scans.put_consignment(connection, "C", "/f", AT, False)
        relations.add_relation(connection, "C", ("B1", "2"), "overlay_of", ("B1", "1"), (AT, "Ada"))
        relations.add_relation(connection, "C", ("B1", "3"), "set", ("B2", "4"), (AT, "Ada"), (1, 8))
        assert relations.relations_of(connection, "C", ("B1", "1")) == [(("B1", "2"), "overlay_of", ("B1", "1"))]
        assert relations.relations_of(connection, "C", ("B2", "4")) == [(("B1", "3"), "set", ("B2", "4"))]
        assert relations.relations_of(connection, "C", ("B1", "9")) == []
