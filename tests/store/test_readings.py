"""What rulings on readings say, and readings that wait: on both databases."""

from dataclasses import replace

from intake.kin import Family, Member, QueueEntry
from intake.model import Evidence, PartKey
from intake.store import decisions, families, readings, scans
from intake.store.database import Database
from intake.store.readings import Equal, Waiting
from tests.made import AT, key, mark, received

VERBS = ("accept_reading", "correct_reading", "reject_reading")
FILES = {
    "a": received("B1/1.tif"),
    "b": received("B1/2.tif"),
    "r": received("reference/3.tif", is_reference=True),
    "d": received("B1/1.tif", consignment="D"),  # the same bytes as a
    "e": received("B1/5.tif", consignment="D"),
}
KEYS = {name: PartKey(f.digest, 1) for name, f in FILES.items()}


def row(name: str, value: str, kind: str = "job") -> Waiting:
    return Waiting(KEYS[name], value.casefold(), mark(value, kind, accepted="no"))


def fill(database: Database) -> None:
    with database.write() as connection:
        for code in ("C", "D"):
            scans.put_consignment(connection, code, "/received", AT, False)
            scans.add_scans(connection, [(f, 1) for f in FILES.values() if f.consignment == code], AT)
        rows = [row("a", "X1"), row("b", "x1"), row("b", "Y2"), row("r", "X1"), row("e", "X1"), row("a", "X1", "style")]
        readings.put_waiting(connection, rows)


def test_equal_ones_are_counted_by_consignment_without_references(database: Database) -> None:
    fill(database)
    with database.read() as connection:
        assert [readings.count_waiting(connection, code) for code in (None, "C", "D", "E")] == [5, 4, 3, 0]
        assert readings.equal_waiting(connection, "C", 0, 10) == [
            Equal("job", "x1", 2), Equal("job", "y2", 1), Equal("style", "x1", 1),
        ]  # fmt: skip
        assert readings.equal_waiting(connection, "C", 1, 1) == [Equal("job", "y2", 1)]
        assert [readings.count_equal(connection, code) for code in ("C", "D", "E")] == [3, 2, 0]
        assert readings.count_equal(connection, "C", "job", "x1") == 2
        found = readings.waiting_of(connection, "C", Equal("job", "x1", 2), 0, 10)
        assert sorted(found) == sorted([row("a", "X1"), row("b", "x1")])
        assert readings.waiting_of(connection, "C", Equal("job", "x1", 2), 1, 10) == found[1:]


def test_those_of_a_part_and_all_are_replaced(database: Database) -> None:
    fill(database)
    with database.write() as connection:
        readings.put_waiting(connection, [row("b", "Z3")], [KEYS["b"]])
        assert [e.same for e in readings.equal_waiting(connection, "C", 0, 10)] == ["x1", "z3", "x1"]
        readings.put_waiting(connection, [])
        assert readings.count_waiting(connection) == 0


def test_a_very_long_value_is_found_by_its_beginning(database: Database) -> None:
    fill(database)
    with database.write() as connection:
        readings.put_waiting(connection, [row("a", "Ω" * 9000)])
        assert readings.count_equal(connection, "C", "job", "ω" * 9000) == 1


def test_what_rulings_say_is_kept_by_number_and_put_anew(database: Database) -> None:
    with database.write() as connection:
        numbers = [decisions.add_decision(connection, AT, "Ada", "accept_reading", [key("a")], {}) for _ in range(2)]
        readings.put_said(connection, {n: mark("X1") for n in numbers})
        readings.put_said(connection, {numbers[1]: mark("Y2")})
        readings.put_said(connection, {})
    with database.read() as connection:
        assert readings.said_by(connection, [*numbers, 99]) == {numbers[0]: mark("X1"), numbers[1]: mark("Y2")}
        assert readings.said_by(connection, []) == {}


def test_decisions_on_readings_come_with_their_undoings(database: Database) -> None:
    with database.write() as connection:

        def add(verb, *parts, undoes=None):  # type: ignore[no-untyped-def]
            return decisions.add_decision(connection, AT, "Ada", verb, parts, {}, undoes)

        add("confirm", key("a"), key("b"))
        one = add("reject_reading", key("a"))
        add("undo", key("a"), key("b"), undoes=1)
        back = add("undo", key("a"), undoes=one)
        other = add("accept_reading", key("b", 2))
    with database.read() as connection:
        made = decisions.decisions_on_readings(connection, VERBS)
        assert [d.id for d in made] == [one, back, other]
        for name, numbers in (("a", [one, back]), ("b", [other]), ("c", [])):
            found = decisions.decisions_on_readings(connection, VERBS, [key(name).digest])
            assert [d.id for d in found] == numbers
        assert decisions.decisions_on_readings(connection, VERBS, []) == []


def test_one_place_in_the_queue_is_changed(database: Database) -> None:
    members = (Member(key("a"), "artwork", 1.0), Member(key("b"), "artwork", 1.0))
    entries = [QueueEntry(code, 1.0, (Evidence("n", "w", 1.0),)) for code in ("F-1", "F-2")]
    with database.write() as connection:
        made = [Family("F-1", "suggested", "", members), Family("F-2", "suggested", "", (members[0],))]
        families.replace_families(connection, made, entries, "key")
        new = replace(entries[1], weight=3.0)
        families.change_entry(connection, new)
    with database.read() as connection:
        assert families.queue(connection) == [new, entries[0]]
        assert families.entries_of(connection, ["F-2", "F-9"]) == [new]
        assert {c: sorted(keys) for c, keys in families.members_of(connection, ["F-1"]).items()} == {
            "F-1": sorted([key("a"), key("b")])
        }
