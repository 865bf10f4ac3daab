"""The ledger, pairs, families, decisions and runs: on both databases."""

from dataclasses import replace

import pytest
from sqlalchemy.exc import IntegrityError

from intake.kin import Family, Member, QueueEntry
from intake.model import Evidence, PartKey, StageResult, Stamps, Worked
from intake.store import decisions, families, ledger, pairs, runs
from intake.store.database import Database
from intake.store.pairs import Compared
from tests.made import AT, STAMPS, digest, key, match

FIRST = StageResult(key("a"), "read", "s1", "done", '{"lines":[]}', 1.5)


def test_the_first_result_for_a_key_stays(database: Database) -> None:
    later = replace(FIRST, payload="other", cpu_s=9.0, state="failed")
    with database.write() as connection:
        ledger.record(connection, [FIRST, later], AT)
        ledger.record(connection, [later, replace(FIRST, stamp="s2")], AT)
        ledger.record(connection, [], AT)
    with database.read() as connection:
        held = ledger.results_of(connection, [digest("a"), digest("b")], {"read": "s1"})
        assert held == {digest("a"): {Worked(key("a"), "read"): FIRST}, digest("b"): {}}
        assert ledger.stage_costs(connection, {"read": "s1"}) == {"read": (1, 1.5)}


def test_only_results_under_the_stamps_asked_for(database: Database) -> None:
    rows = [replace(FIRST, key=key("a", part), stage=stage, stamp=stamp) for part in (0, 1, 2) for stage, stamp in
            (("check", "s1"), ("read", "s1"), ("read", "s2"), ("parse", "s2"))]  # fmt: skip
    with database.write() as connection:
        ledger.record(connection, rows, AT)
    with database.read() as connection:
        held = ledger.results_of(connection, [digest("a")], {"check": "s1", "read": "s2", "parse": "s1"})
        assert {(w.key.part, w.stage, r.stamp) for w, r in held[digest("a")].items()} == {
            (part, stage, stamp) for part in (0, 1, 2) for stage, stamp in (("check", "s1"), ("read", "s2"))
        }
        assert ledger.digests_done(connection, "read", "s2") == {digest("a")}
        assert ledger.digests_done(connection, "parse", "s1") == set()


def test_more_scans_than_a_query_may_name(database: Database) -> None:
    names = [digest(str(n)) for n in range(1000)]
    with database.write() as connection:
        ledger.record(connection, [replace(FIRST, key=PartKey(name, 1)) for name in names], AT)
    with database.read() as connection:
        held = ledger.results_of(connection, names, {"read": "s1"})
    assert all(len(held[name]) == 1 for name in names)


def test_pairs_with_and_without_a_match(database: Database) -> None:
    a, b, c = sorted([key("a"), key("b"), key("c", 2)])
    found = match(
        a, b, points=((1.25, 2.5, 3.0, 4.0),), evidence=(Evidence("points", "80", 3.1), Evidence("x", "y", -1))
    )
    with database.write() as connection:
        pairs.record_pairs(connection, "m", [Compared((a, b), 1, None, 9.0), Compared((a, c), 15, None, 0.25)])
        pairs.record_pairs(connection, "m", [Compared((a, b), 3, found, 0.5)])
        pairs.record_pairs(connection, "old", [Compared((b, c), 1, match(b, c), 1.0)])
        pairs.record_pairs(connection, "m", [])
    with database.read() as connection:
        assert pairs.pairs_compared(connection, "m") == {(a, b): 3, (a, c): 15}
        assert pairs.all_matches(connection, "m") == [found]
        assert pairs.pair_costs(connection, "m") == (2, 0.75)
        assert pairs.pair_costs(connection, "none") == (0, 0.0)
        assert pairs.matches_among(connection, "m", [a, b]) == [found]
        assert pairs.matches_among(connection, "m", [a, c]) == []
        assert pairs.matches_among(connection, "m", []) == []
    with database.write() as connection:
        pairs.drop_pairs(connection, "m", [(a, b), (b, c)])
    with database.read() as connection:
        assert pairs.pairs_compared(connection, "m") == {(a, c): 15}
        assert pairs.pairs_compared(connection, "old") == {(b, c): 1}
    assert found.weight == pytest.approx(2.1)


def test_a_pair_has_one_order() -> None:
    a, b = sorted([key("a"), key("b")])
    assert pairs.ordered(a, b) == pairs.ordered(b, a) == (a, b)
    assert pairs.ordered(key("a", 2), key("a", 1)) == (key("a", 1), key("a", 2))


def test_families_are_replaced_whole(database: Database) -> None:
    def family(code: str, *names: str) -> Family:
        members = sorted((Member(key(n), "artwork", 0.75) for n in names), key=lambda m: m.key)
        return Family(code, "suggested", f"title '{code}'", tuple(members), "weak")

    one, two = family("F1", "a", "b"), family("F2", "c", "d", "e")
    queue = [QueueEntry("F1", 1.5, (Evidence("news", "2 pieces", 1.5),)), QueueEntry("F2", 4.0, ())]
    with database.write() as connection:
        assert families.related_key(connection) == ""
        families.replace_families(connection, [two, one], queue, "key 1")
    with database.read() as connection:
        assert families.all_families(connection) == [one, two]
        assert families.codes_of(connection, [key("a"), key("d"), key("e", 2), key("z")]) == {
            key("a"): "F1",
            key("d"): "F2",
        }
        assert families.codes_of(connection, []) == {}
        assert families.queue(connection) == [queue[1], queue[0]]
        assert families.related_key(connection) == "key 1"
    with database.write() as connection:
        families.replace_families(connection, [two], [], "key 2")
    with database.read() as connection:
        assert families.all_families(connection) == [two]
        assert families.queue(connection) == []
        assert families.related_key(connection) == "key 2"


def test_decisions_are_added_and_undone_once(database: Database) -> None:
    parts = [key("a"), key("b", 2)]
    with database.write() as connection:
        first = decisions.add_decision(connection, AT, "Ada \u2019", "confirm", parts, {"family": "F1", "n": [1, None]})
        undo = decisions.add_decision(connection, AT, "Ben", "undo", [], {}, undoes=first)
    with database.read() as connection:
        one, two = decisions.all_decisions(connection)
    assert (one.id, one.who, one.verb, one.parts, one.shown) == (
        first, "Ada \u2019", "confirm", tuple(parts), {"family": "F1", "n": [1, None]},
    )  # fmt: skip
    assert isinstance(one.parts[0], PartKey)
    assert (two.id, two.undoes, two.parts) == (undo, first, ())
    with pytest.raises(IntegrityError), database.write() as connection:
        decisions.add_decision(connection, AT, "Eve", "undo", [], {}, undoes=first)
    with pytest.raises(IntegrityError), database.write() as connection:
        decisions.add_decision(connection, AT, "Eve", "undo", [], {}, undoes=12345)


def test_runs_and_their_stamps(database: Database) -> None:
    with database.write() as connection:
        assert runs.last_run(connection) is None
        assert runs.current_stamps(connection) is None
        first = runs.start_run(connection, AT, {"reader": "1"}, STAMPS)
        runs.end_run(connection, first, "later", "done", "report")
        newer = Stamps({"read": "x"}, "y", "z")
        second = runs.start_run(connection, "next night", {}, newer)
        assert second > first
        assert runs.last_run(connection) == ("next night", None, None)
        assert runs.current_stamps(connection) == newer
