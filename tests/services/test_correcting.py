"""Readings ruled on in one go, what follows from it everywhere, and that it outlives a run under other settings."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from intake.config.load import Config, load_config
from intake.kin import Decision, Match, Verb
from intake.model import Box, Line, Mark, Parsed, PartFound, PartKey, ReaderSaid, Stamps
from intake.services import open_readings, review
from intake.services.correcting import LINE, AskedReading, RuledOn, line_seen, rule_on_readings
from intake.services.dossiers import Dossier, dossiers
from intake.services.export import export
from intake.services.home import Home
from intake.services.lettering import body_lines
from intake.services.relate import is_settled, regroup
from intake.services.review import RulingRefused
from intake.services.tables import table
from intake.store import decisions, desk, families, pairs, runs, scans
from tests.made import (
    AT,
    CONFIG,
    STAMPS,
    Written,
    checked,
    classified,
    dossier,
    line,
    mark,
    match,
    reading,
    received,
)

FOOT = Box(200, 1400, 300, 30)
SIDE = Box(600, 1400, 200, 30)
OTHER = Stamps({s: f"other-{s}" for s in STAMPS.stages}, "other-whole", STAMPS.match)
WRONG, RIGHT = "61/294", "61/204"
HOSTILE = "<script>alert(1)</script>\u202e=1+1"


def code(value: str = WRONG, box: Box = FOOT, **given: Any) -> Mark:
    said = (ReaderSaid("ppocr x1", value, 0.9), ReaderSaid("tesseract", "6l/Z94", 0.4))
    return mark(value, "release_code", box=box, readers=said, **{"accepted": "no", "year_to": None, **given})


FILES = {
    "a": received("B1/0001.tif"),
    "b": received("B1/0002.tif"),
    "c": received("B2/0003.tif"),
    "plain": received("B2/0004.tif"),
    "reference": received("reference/9.tif", is_reference=True),
    "elsewhere": received("B9/0001.tif", consignment="D"),
}
KEYS = {name: PartKey(f.digest, 1) for name, f in FILES.items()}
FIRST: dict[str, tuple[Mark, ...]] = {
    "a": (code(),),
    "b": (code("61 /294"), mark(HOSTILE, "printer", box=SIDE, accepted="no")),
    "c": (code(),),
    "plain": (code("77/41", accepted="auto"),),
    "reference": (code(),),
    "elsewhere": (code(),),
}
LINES = (line("JOB 4417 of the shop", Box(100, 100, 200, 30)), line(WRONG, FOOT))


@pytest.fixture(scope="module")
def config() -> Config:
    return load_config(CONFIG)


def write(written: Written, marks: dict[str, tuple[Mark, ...]], lines: tuple[Line, ...] = LINES) -> None:
    for name, scan in FILES.items():
        d = dossier(scan)
        values = (d.rendered, classified(), reading(lines=lines), d.measured, d.features, Parsed(marks.get(name, ())))
        written.looked(scan, values, check=checked())


@pytest.fixture
def made(home: Home, config: Config) -> Iterator[Home]:
    """Three equal readings in consignment C, two of them of one family; the same on a reference and in D."""
    written = Written(home)
    written.consignment(*(f for f in FILES.values() if f.consignment == "C"))
    written.consignment(FILES["elsewhere"], code="D")
    written.run()
    write(written, FIRST)
    found: list[Match] = [match(KEYS["a"], KEYS["plain"])]
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found])
        runs.end_run(connection, 1, AT, "done", "")
    regroup(home, config, STAMPS)
    yield home


def rerun(home: Home, config: Config, marks: dict[str, tuple[Mark, ...]]) -> None:
    """The same scans again, under other settings: a run from beginning to end."""
    with home.database.write() as connection:
        number = runs.start_run(connection, AT, {}, OTHER)
    write(Written(home, OTHER), marks)
    regroup(home, config, OTHER)
    with home.database.write() as connection:
        runs.end_run(connection, number, AT, "done", "")


def known(home: Home) -> dict[PartKey, Dossier]:
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        assert stamps is not None
        return {d.key: d for d in dossiers(connection, stamps)}


def asked(home: Home, *names: str, kind: str = "release_code") -> list[AskedReading]:
    have = known(home)
    return [
        AskedReading(KEYS[n], kind, r.mark.box, r.seen)
        for n in names
        for r in have[KEYS[n]].readings
        if r.mark.kind == kind
    ]


def rule(home: Home, config: Config, verb: Verb, *names: str, who: str = "Ida Marl", **given: str) -> RuledOn:
    return rule_on_readings(home, config, who, verb, asked(home, *names), **given)


def stand(home: Home, name: str) -> list[tuple[str, str, str]]:
    parsed = known(home)[KEYS[name]].parsed
    return [(m.kind, m.value, m.accepted) for m in parsed.marks] if parsed else []


def rows(home: Home) -> list[Decision]:
    with home.database.read() as connection:
        return decisions.all_decisions(connection)


def groups(home: Home, consignment: str = "C") -> list[tuple[str, str, int, int]]:
    found, many = open_readings.groups(home, consignment, 0, 10, 8)
    assert many == len(found)
    return [(g.kind, g.value, g.many, len(g.readings)) for g in found]


# ---- what waits -----------------------------------------------------------------------------------------------------


def test_equal_readings_wait_together_the_most_frequent_first(made: Home) -> None:
    assert groups(made) == [("release_code", WRONG, 3, 3), ("printer", HOSTILE, 1, 1)]
    assert groups(made, "D") == [("release_code", WRONG, 1, 1)]
    assert open_readings.waiting_by_consignment(made) == {"C": 4, "D": 1}
    assert open_readings.waiting(made) == 5  # a reference is no property, and is not asked for


def test_a_page_shows_no_other_owners_piece_even_where_the_file_is_the_same(made: Home, config: Config) -> None:
    """The same bytes came in both consignments: each sees its own name of it."""
    twin = replace(FILES["a"], consignment="D", path="B7/0007.tif", box="B7", piece="0007")
    with made.database.write() as connection:
        scans.add_scans(connection, [(twin, 1)], AT)
    regroup(made, config, STAMPS)
    for consignment, places in (("C", {"B1 / 0001", "B1 / 0002", "B2 / 0003"}), ("D", {"B7 / 0007", "B9 / 0001"})):
        group = open_readings.one_group(made, config, consignment, "release_code", WRONG, 0, 24)
        assert group is not None and {r.member.place for r in group.readings} == places
        assert {r.member.consignment for r in group.readings} == {consignment}


def test_a_group_is_shown_in_leaves(made: Home, config: Config) -> None:
    leaves = [open_readings.one_group(made, config, "C", "release_code", WRONG, n, 2) for n in (0, 2, 4)]
    assert [len(g.readings) if g else 0 for g in leaves] == [2, 1, 0]
    assert open_readings.one_group(made, config, "C", "release_code", "no such", 0, 24) is None


# ---- in one go ------------------------------------------------------------------------------------------------------


def test_accepted_in_one_go_a_row_each(made: Home, config: Config) -> None:
    ruled = rule(made, config, "accept_reading", "a", "c")
    assert ruled == RuledOn((1, 2), ())
    assert [(d.verb, d.parts, d.shown["text"]) for d in rows(made)] == [
        ("accept_reading", (KEYS[n],), WRONG) for n in ("a", "c")
    ]
    assert len({d.shown["batch"] for d in rows(made)}) == 1
    assert stand(made, "a") == [("release_code", WRONG, "person")] and stand(made, "b")[0][2] == "no"
    assert groups(made)[0] == ("printer", HOSTILE, 1, 1) and groups(made)[1] == ("release_code", "61 /294", 1, 1)


def test_corrected_in_one_go_and_parsed_again(made: Home, config: Config) -> None:
    rule(made, config, "correct_reading", "a", "b", "c", text=f" {RIGHT}\n")
    for name in ("a", "b", "c"):
        found = known(made)[KEYS[name]].readings[0].mark
        assert (found.value, found.accepted, found.year_from, found.country, found.rule) == (
            RIGHT, "person", 1961, "US", "us_dist_slash",
        )  # fmt: skip
    assert {d.shown["read"] for d in rows(made)} == {WRONG, "61 /294"}
    assert open_readings.waiting(made) == 2


def test_putting_what_is_read_accepts_it(made: Home, config: Config) -> None:
    rule(made, config, "correct_reading", "a", "b", text=WRONG)
    assert [d.verb for d in rows(made)] == ["accept_reading", "correct_reading"]


def test_rejected_in_one_go_and_taken_back_in_one_go(made: Home, config: Config) -> None:
    ruled = rule(made, config, "reject_reading", "a", "b", "c")
    assert open_readings.waiting(made) == 2 and stand(made, "a") == []
    review.undo(made, config, "Ida Marl", ruled.numbers[1])  # one of them alone
    assert groups(made)[-1] == ("release_code", "61 /294", 1, 1)
    number = review.undo(made, config, "Ida Marl", ruled.numbers[0], all_of_it=True)
    assert [d.undoes for d in rows(made)[3:]] == [2, 1, 3] and groups(made)[0][2] == 3
    review.undo(made, config, "Ida Marl", number, all_of_it=True)  # and the taking back as a whole
    assert [d.undoes for d in rows(made)[6:]] == [5, 6] and open_readings.waiting(made) == 3


def test_equal_ones_elsewhere_in_the_consignment_are_offered(made: Home, config: Config) -> None:
    rule(made, config, "correct_reading", "a", text=RIGHT)
    offer = open_readings.offer(made, config, rows(made)[0])
    assert offer == open_readings.Offer("C", "release_code", WRONG, 2, RIGHT)
    rule(made, config, "accept_reading", "b", "c")
    assert open_readings.offer(made, config, rows(made)[0]) is None


def test_what_changed_meanwhile_is_left_alone_and_named(made: Home, config: Config) -> None:
    page = asked(made, "a", "b", "c")
    rule(made, config, "reject_reading", "b", who="Ore Vann")
    ruled = rule_on_readings(made, config, "Ida Marl", "accept_reading", page)
    assert len(ruled.numbers) == 2 and ruled.changed == (KEYS["b"],)
    assert [d.parts for d in rows(made)[1:]] == [(KEYS["a"],), (KEYS["c"],)]
    with pytest.raises(RulingRefused, match=r"Nothing was written.*B1 / 0002.*Ore Vann rejected a reading"):
        rule_on_readings(made, config, "Ida Marl", "accept_reading", page[1:2])
    assert len(rows(made)) == 3


def test_a_reading_that_a_run_changed_is_left_alone(made: Home, config: Config) -> None:
    page = asked(made, "a", "c")
    rerun(made, config, FIRST | {"a": (code("61/209"),)})
    ruled = rule_on_readings(made, config, "Ida Marl", "accept_reading", page)
    assert ruled.changed == (KEYS["a"],) and stand(made, "a") == [("release_code", "61/209", "no")]


def test_two_people_at_once_make_one_ruling_on_each_reading(made: Home, config: Config) -> None:
    page = asked(made, "a", "b", "c")

    def one(who: str) -> int:
        try:
            return len(rule_on_readings(made, config, who, "accept_reading", page).numbers)
        except RulingRefused:
            return 0

    with ThreadPoolExecutor(4) as pool:
        ruled = list(pool.map(one, ("Ida Marl", "Ore Vann", "Una Pell", "Jon Riis")))
    assert sorted(ruled) == [0, 0, 0, 3] and len(rows(made)) == 3


@pytest.mark.parametrize(
    ("verb", "given"),
    [
        ("correct_reading", {"text": " "}),
        ("correct_reading", {"text": "\u202e\x00"}),
        ("correct_reading", {"text": "x" * 301}),
        ("correct_reading", {"text": RIGHT, "kind": "price"}),
        ("confirm", {}),
    ],
)
def test_what_makes_no_sense_is_refused(made: Home, config: Config, verb: Any, given: dict[str, str]) -> None:
    with pytest.raises(RulingRefused):
        rule(made, config, verb, "a", **given)
    assert rows(made) == []


def test_a_form_is_bounded(made: Home, config: Config) -> None:
    many = [AskedReading(KEYS["a"], "release_code", Box(n, 0, 1, 1), "0" * 12) for n in range(25)]
    for page in (many, []):
        with pytest.raises(RulingRefused):
            rule_on_readings(made, config, "Ida Marl", "accept_reading", page)


# ---- a mark where none was read, and another kind -------------------------------------------------------------------


def test_a_line_that_gave_no_mark_becomes_one(made: Home, config: Config) -> None:
    view = open_readings.lines_without_mark(made, KEYS["a"], 0, 40)
    assert view is not None and [x.text for x, *_ in view.lines] == ["JOB 4417 of the shop"] and view.many == 1
    found, _, seen = view.lines[0]
    page = [AskedReading(KEYS["a"], LINE, found.box, seen)]
    with pytest.raises(RulingRefused):
        rule_on_readings(made, config, "Ida Marl", "accept_reading", page)
    rule_on_readings(made, config, "Ida Marl", "correct_reading", page, "JOB NO. 4417", "job")
    assert stand(made, "a") == [("release_code", WRONG, "no"), ("job", "4417", "person")]
    new = known(made)[KEYS["a"]].readings[1]
    assert (new.mark.box, new.mark.text, new.read) == (found.box, found.text, "")
    with pytest.raises(RulingRefused):  # it is a mark by now
        rule_on_readings(made, config, "Ore Vann", "correct_reading", page, "4418", "job")
    left = open_readings.lines_without_mark(made, KEYS["a"], 0, 40)
    assert left is not None and left.lines == () and open_readings.offer(made, config, rows(made)[0]) is None


def test_what_a_line_shows_is_part_of_what_was_seen(made: Home) -> None:
    d = known(made)[KEYS["a"]]
    assert line_seen(d, LINES[1]) != line_seen(replace(d, readings=()), LINES[1])


def test_another_kind_and_what_it_says(made: Home, config: Config) -> None:
    rule(made, config, "correct_reading", "a", text="4417-12", kind="job")
    assert stand(made, "a") == [("job", "4417-12", "person")]
    assert known(made)[KEYS["a"]].readings[0].mark.year_from is None
    (again,) = asked(made, "a", kind="job")
    rule_on_readings(made, config, "Ida Marl", "reject_reading", [again])
    assert stand(made, "a") == [] and open_readings.waiting(made) == 4


# ---- it outlives everything -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "later",
    [
        (),
        (code("61/209", accepted="auto"),),
        (code(RIGHT, Box(203, 1399, 298, 31), accepted="auto"),),
        (mark("61/294", "job", box=FOOT),),
    ],
    ids=["gone", "another value", "the same, moved", "another kind"],
)
def test_a_correction_survives_a_run_under_other_settings(made: Home, config: Config, later: tuple[Mark, ...]) -> None:
    rule(made, config, "correct_reading", "a", text=RIGHT)
    rerun(made, config, FIRST | {"a": later})
    assert ("release_code", RIGHT, "person") in stand(made, "a")
    assert [m for m in stand(made, "a") if m[0] == "release_code"] == [("release_code", RIGHT, "person")]
    found = next(r.mark for r in known(made)[KEYS["a"]].readings if r.mark.kind == "release_code")
    assert found.year_from == 1961 or later  # a reading that agrees keeps its own years
    columns, rows_ = table(made, config, "marks")
    out = [dict(zip(columns, row, strict=True)) for row in rows_]
    (row,) = [r for r in out if r["scan"] == "B1/0001.tif" and r["kind"] == "release_code"]
    assert (row["value"], row["accepted"], row["ruling"]) == (RIGHT, "person", "corrected")


def test_a_rejection_survives_and_another_value_is_asked_for(made: Home, config: Config) -> None:
    rule(made, config, "reject_reading", "a", "c")
    rerun(made, config, FIRST | {"a": (code("61/294", accepted="auto"),), "c": (code("77/41", accepted="auto"),)})
    assert stand(made, "a") == [] and stand(made, "c") == [("release_code", "77/41", "no")]
    assert ("release_code", "77/41", 1, 1) in groups(made)
    columns, rows = table(made, config, "marks")
    ruling = columns.index("ruling")
    assert {(r[0], r[ruling]) for r in rows if r[7] == "no"} >= {
        ("B1/0001.tif", "rejected"), ("B2/0003.tif", ""),
    }  # fmt: skip


def test_a_ruling_survives_a_stage_that_failed(made: Home, config: Config) -> None:
    rule(made, config, "accept_reading", "a")
    with made.database.write() as connection:
        runs.start_run(connection, AT, {}, OTHER)
        runs.end_run(connection, 2, AT, "done", "")  # nothing was looked at under the other settings
    assert stand(made, "a") == [("release_code", WRONG, "person")]


def test_a_ruling_goes_with_its_place_where_parts_are_told_otherwise(home: Home, config: Config) -> None:
    """A scan of two pieces: later settings find them in the other order, or see one piece."""
    written, scan = Written(home), received("B1/0001.tif")
    left, right = Box(0, 0, 500, 1500), Box(500, 0, 500, 1500)
    written.consignment(scan)
    written.run()
    on_right = code(box=Box(600, 1400, 200, 30))

    def look(stamps: Stamps, *parts: tuple[Box, tuple[Mark, ...]]) -> None:
        found = tuple(PartFound(n, 0, box) for n, (box, _) in enumerate(parts, start=1))
        check = replace(checked(), parts=found)
        Written(home, stamps).looked(scan, *((Parsed(marks),) for _, marks in parts), check=check)
        regroup(home, config, stamps)

    look(STAMPS, (left, ()), (right, (on_right,)))
    key = PartKey(scan.digest, 2)
    page = [AskedReading(key, r.mark.kind, r.mark.box, r.seen) for r in known(home)[key].readings]
    rule_on_readings(home, config, "Ida Marl", "correct_reading", page, RIGHT)
    for number, parts in enumerate((((right, ()), (left, ())), ((Box(0, 0, 1000, 1500), ()),)), start=2):
        stamps = replace(OTHER, stages={s: f"{number}-{s}" for s in OTHER.stages})
        with home.database.write() as connection:
            runs.start_run(connection, AT, {}, stamps)
            runs.end_run(connection, number, AT, "done", "")
        look(stamps, *parts)
        assert [r.mark.value for r in known(home)[PartKey(scan.digest, 1)].readings] == [RIGHT]


def test_years_follow_better_settings(made: Home, config: Config) -> None:
    rule(made, config, "correct_reading", "a", text=RIGHT)
    better = tuple(p.model_copy(update={"country": "XX"}) if p.name == "us_dist_slash" else p for p in config.patterns)
    rerun(made, config.model_copy(update={"patterns": better}), FIRST | {"a": ()})
    assert known(made)[KEYS["a"]].readings[0].mark.country == "XX"


def test_a_home_without_what_follows_from_rulings_makes_it_again(made: Home, config: Config) -> None:
    """Derived: gone with a table, and there again after the next grouping; the ruling itself shows meanwhile."""
    rule(made, config, "correct_reading", "a", text=RIGHT)
    before = (stand(made, "a"), groups(made))
    with made.database.write() as connection:
        for name in ("ruled_reading", "waiting_reading"):
            connection.exec_driver_sql(f"delete from {name}")
    assert stand(made, "a") == before[0] and groups(made) == []
    regroup(made, config, STAMPS)
    assert (stand(made, "a"), groups(made)) == before
    assert known(made)[KEYS["a"]].readings[0].mark.year_from == 1961


# ---- who uses marks -------------------------------------------------------------------------------------------------


def test_the_queue_heeds_rulings_at_once(made: Home, config: Config) -> None:
    """Accepted: the code differs from that of the other sheet. Corrected to the same: it does not."""

    def differs() -> list[str]:
        with made.database.read() as connection:
            (entry,) = families.queue(connection)
        assert entry.weight == pytest.approx(sum(r.weight for r in entry.reasons))
        return [r.words for r in entry.reasons if r.name == "differs"]

    assert differs() == []
    rule(made, config, "accept_reading", "a")
    assert differs() == [config.queue.reasons["differs"].words.format(words=f"release code {WRONG} / 77/41")]
    at_once = differs()
    assert not is_settled(made, config, STAMPS)
    regroup(made, config, STAMPS)
    assert differs() == at_once
    rule(made, config, "correct_reading", "a", text="77/41")
    assert differs() == []
    review.undo(made, config, "Ida Marl", 2)
    assert differs() == at_once
    rule(made, config, "reject_reading", "a")
    assert differs() == []


def test_a_rejected_readings_line_is_text_again(made: Home, config: Config) -> None:
    assert WRONG not in body_lines(known(made)[KEYS["a"]], 0.5)
    rule(made, config, "reject_reading", "a")
    assert WRONG in body_lines(known(made)[KEYS["a"]], 0.5)


def test_what_a_person_typed_is_no_formula_in_a_table(made: Home, config: Config, tmp_path: Path) -> None:
    rule(made, config, "correct_reading", "a", text="=HYPERLINK(1)", kind="job")
    export(made, config, "marks", tmp_path / "marks.csv")
    assert "'=HYPERLINK(1)" in (tmp_path / "marks.csv").read_text()
