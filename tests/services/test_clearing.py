"""Two named people end a hold, and nothing else does; a rerun loses nothing; what opposes them brings it back."""

import unicodedata
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.kin import Decision
from intake.model import Box, Parsed, PartFound, PartKey, Stamps
from intake.services import noting, review
from intake.services.cautions import cautions
from intake.services.clearing import is_same_person
from intake.services.correcting import AskedReading, rule_on_readings
from intake.services.hazards import box_hazards, hazards_of
from intake.services.home import Home
from intake.services.progress import progress
from intake.services.review import RulingRefused
from intake.store import decisions, desk, families, runs, scans
from intake.store.database import Database
from tests.made import AT, SETTINGS, STAMPS, Written, checked, classified, reading, received
from tests.services.films import (
    ALL_FILM,
    FILES,
    IDA,
    MARKS,
    NITRATE,
    ORE,
    OTHER,
    READ,
    REPORT,
    add,
    box,
    clear,
    confirm,
    filled,
    holds,
    known,
    note,
    propose,
    rerun,
    row,
    waiting,
    write,
)


@pytest.fixture
def home(home: Home) -> Home:
    """One piece of film of every kind, each with SAFETY on its edge; glass; a sheet that matches one of the films."""
    return filled(home)


# ---- two named people -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["0001", "box"])
def test_two_named_people_end_a_hold(home: Home, which: str) -> None:
    weight = {e.family: e.weight for e in _queue(home)}
    first = propose(home, which)
    assert holds(home) == ALL_FILM, "one word ends nothing"
    confirm(home, first)
    gone = {"F1 / 0001"} if which == "0001" else {f"F1 / 000{n}" for n in range(1, 5)}
    assert holds(home) == ALL_FILM - gone
    base = row(home, "F1/0001.tif")["base"]
    assert base == f"ruled safety by {IDA} and {ORE}, {SETTINGS.hazards.bases['laboratory']}: {REPORT}"
    assert row(home, "F1/0001.tif")["hazard"] == ""
    assert [f.code for f in known(home)["F1 / 0001"].findings] == ["base_ruled"]
    assert all(e.weight < weight[e.family] for e in _queue(home)), "the queue says it too, at once"


def _queue(home: Home) -> list[Any]:
    with home.database.read() as connection:
        return families.queue(connection)


@pytest.mark.parametrize(
    "again",
    [
        IDA, "ida marl", "IDA  MARL", " Ida\tMarl ", "Ｉｄａ Ｍａｒｌ", "Ida-Marl", "Marl, Ida", "I\u0301da Marl",
        "IdaMarl", "Ida Marl.", "Ida\u00a0Marl", "Ida Mar\ufe0fl",
    ],
)  # fmt: skip
def test_the_same_person_twice_never_does(home: Home, again: str) -> None:
    number = propose(home, "0001")
    with pytest.raises(RulingRefused, match=r"other named person|a name of 1 to"):
        confirm(home, number, again)
    assert holds(home) == ALL_FILM


@given(st.text(min_size=1, max_size=30), st.sampled_from(["NFC", "NFD", "NFKC", "NFKD"]))
def test_a_name_is_its_own_in_every_form(name: str, form: Any) -> None:
    assert (
        is_same_person(name, unicodedata.normalize(form, name).upper().lower()) or name.upper().lower() != name.lower()
    )
    assert is_same_person(name, unicodedata.normalize(form, name)) and is_same_person(f" {name} ", name)
    assert not is_same_person("Ida Marl", "Ore Vann") and is_same_person("!!", "Ore Vann")


def test_a_row_of_the_same_person_counts_for_nothing_even_if_it_is_there(home: Home) -> None:
    number = propose(home, "0001")
    with home.database.write() as connection:
        decisions.add_decision(connection, AT, "IDA marl", "confirm_clearing", [], {"proposal": number})
        decisions.add_decision(connection, AT, ORE, "confirm_clearing", [], {"proposal": number + 99})
    assert holds(home) == ALL_FILM


@pytest.mark.parametrize("by", [IDA, ORE])
def test_either_can_take_it_back_and_it_stays_back(home: Home, by: str) -> None:
    first, second = clear(home, "0001")
    back = review.undo(home, SETTINGS, by, first if by == IDA else second)
    assert holds(home) == ALL_FILM and row(home, "F1/0001.tif")["base"] == "unconfirmed"
    with pytest.raises(RulingRefused, match="does not come back"):
        review.undo(home, SETTINGS, by, back)
    with home.database.write() as connection:  # nor does it where such a row is there all the same
        decisions.add_decision(connection, AT, by, "undo", [], {}, back)
    assert holds(home) == ALL_FILM
    if by == ORE:
        confirm(home, first)  # the proposal still waits
        assert "F1 / 0001" not in holds(home)


def test_nobody_takes_back_anothers(home: Home) -> None:
    first, second = clear(home, "0001")
    for who, number in ((ORE, first), (IDA, second), ("Third Person", first)):
        with pytest.raises(RulingRefused, match="only"):
            review.undo(home, SETTINGS, who, number)
    assert "F1 / 0001" not in holds(home)


@pytest.mark.parametrize(
    ("given", "words"),
    [({"basis": "SAFETY in the edge print"}, "on what basis"), ({"words": "  "}, "in words"), ({"basis": ""}, "basis")],
)
def test_a_basis_is_stated(home: Home, given: dict[str, str], words: str) -> None:
    with pytest.raises(RulingRefused, match=words):
        propose(home, "0001", **given)


@pytest.mark.parametrize("which", ["0005", "0006", "nothing", ""])
def test_only_what_is_held_is_proposed(home: Home, which: str) -> None:
    with pytest.raises(RulingRefused, match="under hold now"):
        propose(home, which)


def test_a_group_is_its_pieces_of_that_time(home: Home) -> None:
    groups = {g.words: g for g in box(home).groups}
    group = groups["about 100 × 125.4 mm, SAFETY in the edge print"]
    assert group.pieces == ("0001", "0002", "0004") and len(groups) == 2
    number, _ = clear(home, group.token)
    assert holds(home) == {"F1 / 0003", "F2 / 0001"}
    with home.database.read() as connection:
        made = next(d for d in decisions.all_decisions(connection) if d.id == number)
    assert made.shown["pieces"] == ["0001", "0002", "0004"] and "SAFETY in the edge print" in made.shown["of"]
    new = received("F1/0007.tif")
    with home.database.write() as connection:
        scans.add_scans(connection, [(new, 1)], AT)
    write(Written(home), new, "film_negative", MARKS["mono"])
    assert "F1 / 0007" in holds(home), "what comes later is not covered"


def test_hundreds_of_negatives_are_one_line(home: Home) -> None:
    """A box of them: one caution with a count, one group, two words."""
    many = [received(f"F9/{n:04}.tif") for n in range(300)]
    with home.database.write() as connection:
        scans.add_scans(connection, [(s, 1) for s in many], AT)
    for scan in many:
        write(Written(home), scan, "film_negative", MARKS["mono"])
    said = cautions(home, SETTINGS, {("C", "F9")})
    assert [(c.title, c.pieces, len(c.places)) for c in said] == [("Possible cellulose nitrate", 300, 1)]
    assert [len(g.pieces) for g in box(home, "F9").groups] == [300]
    clear(home, "box", "F9")
    assert cautions(home, SETTINGS, {("C", "F9")}) == [] and holds(home) == ALL_FILM


# ---- what comes after -----------------------------------------------------------------------------------------------


def test_a_rerun_loses_nothing(home: Home) -> None:
    clear(home, "0001")
    rerun(home)
    assert holds(home) == ALL_FILM - {"F1 / 0001"}


def test_a_later_look_that_takes_film_for_something_else_ends_no_hold_and_says_so(home: Home) -> None:
    clear(home, "0002")
    rerun(home, kinds={"colour": "finished_sheet", "mono": "finished_sheet", "slide": "glass_negative"})
    assert holds(home) == ALL_FILM - {"F1 / 0002"}
    (said,) = [f for f in known(home)["F1 / 0001"].findings if f.code == "possible_nitrate"]
    assert said.severity == "hazard" and "The newest look does not" in said.message
    assert row(home, "F1/0001.tif")["base"] == "unconfirmed" and known(home)["F1 / 0001"].kind == "finished_sheet"
    assert {f.code for f in known(home)["F1 / 0003"].findings if f.severity == "hazard"} == {
        "possible_nitrate",
        "glass",
    }
    clear(home, "0001")  # as no film at all, by two people
    assert "F1 / 0001" not in holds(home)
    rerun(home, stamps=Stamps({s: f"third-{s}" for s in STAMPS.stages}, "third", STAMPS.match))
    assert "F1 / 0001" not in holds(home), "what two people ruled stands when a look takes it for film again"


def test_a_file_that_a_later_look_divides_otherwise_stays_under_hold_in_all_its_parts(home: Home) -> None:
    scan = received("F5/0030.tif")
    with home.database.write() as connection:
        scans.add_scans(connection, [(scan, 1)], AT)
    halves = [Box(0, 0, 500, 1500), Box(500, 0, 500, 1500)]

    def look(stamps: Stamps, boxes: list[Box], film: int) -> None:
        found = tuple(PartFound(n, 0, b) for n, b in enumerate(boxes, start=1))
        cut = replace(checked(), parts=found, findings=())
        kinds = [("film_negative", (NITRATE,)) if n == film else ("finished_sheet", ()) for n in range(len(boxes))]
        parts = [(classified(k, findings=f), reading(), Parsed(())) for k, f in kinds]
        Written(home, stamps).looked(scan, *parts, check=cut)

    look(STAMPS, halves, 1)
    assert {h for h in holds(home) if h.startswith("F5")} == {"F5 / 0030.2"}
    with home.database.write() as connection:
        number = runs.start_run(connection, AT, {}, OTHER)
        runs.end_run(connection, number, AT, "done", "")
    look(OTHER, [Box(0, 0, 1000, 1500)], -1)
    assert {h for h in holds(home) if h.startswith("F5")} == {"F5 / 0030"}


def test_a_new_scan_of_a_cleared_piece_is_covered_and_a_new_piece_is_not(home: Home) -> None:
    clear(home, "box")
    add(home, received("F1/0001 again.tif", piece="0001", side="detail"))
    assert holds(home) == {"F2 / 0001"}
    add(home, received("F1/0010.tif"))
    assert holds(home) == {"F2 / 0001", "F1 / 0010"}


def test_one_of_several_on_a_scan_goes_by_its_picture_too(home: Home) -> None:
    """Divided otherwise, the same name may be another thing: the hold is back."""
    scan = received("F4/0020.tif")
    with home.database.write() as connection:
        scans.add_scans(connection, [(scan, 1)], AT)
    halves = [Box(0, 0, 500, 1500), Box(500, 0, 500, 1500)]

    def look(stamps: Stamps, boxes: list[Box]) -> None:
        found = tuple(PartFound(n, 0, b) for n, b in enumerate(boxes, start=1))
        cut = replace(checked(), parts=found, findings=())
        values = (classified("film_negative", findings=(NITRATE,)), reading(), Parsed(()))
        Written(home, stamps).looked(scan, *([values] * len(boxes)), check=cut)

    look(STAMPS, halves)
    clear(home, "0020.2", "F4")
    assert {h for h in holds(home) if h.startswith("F4")} == {"F4 / 0020.1"}
    with home.database.write() as connection:
        number = runs.start_run(connection, AT, {}, OTHER)
        runs.end_run(connection, number, AT, "done", "")
    look(OTHER, [Box(0, 0, 250, 1500), Box(250, 0, 250, 1500), Box(500, 0, 500, 1500)])
    assert {h for h in holds(home) if h.startswith("F4")} == {"F4 / 0020.1", "F4 / 0020.2", "F4 / 0020.3"}


def test_nitrate_read_on_a_cleared_piece_brings_the_hold_back(home: Home) -> None:
    clear(home, "box")
    rerun(home, {"mono": (READ,)})
    assert holds(home) == {"F1 / 0002", "F2 / 0001"}
    found = {f.code: f.severity for f in known(home)["F1 / 0002"].findings}
    assert found == {"possible_nitrate": "hazard", "nitrate_read": "hazard", "clearing_opposed": "attention"}
    assert "Ruled safety, and spoken against since" in [c.title for c in cautions(home, SETTINGS)]
    assert [c.back for c in box(home).cleared] == [("0002",)]
    rerun(home, stamps=Stamps({s: f"third-{s}" for s in STAMPS.stages}, "third", STAMPS.match))
    assert "F1 / 0002" in holds(home), "a reader that misses it later unsays nothing"
    clear(home, "0002")  # two people have looked again, and seen it
    assert holds(home) == {"F2 / 0001"}


def test_nitrate_on_another_scan_of_the_piece_does_too(home: Home) -> None:
    clear(home, "0001")
    add(home, received("F1/0001 v.tif", piece="0001", side="verso"), "unknown", READ)
    assert "F1 / 0001" in holds(home)


def test_a_person_who_reads_nitrate_brings_it_back_and_no_rejection_sends_it_off(home: Home) -> None:
    clear(home, "0001")
    d = known(home)["F1 / 0001"]
    asked = [AskedReading(d.key, r.mark.kind, r.mark.box, r.seen) for r in d.readings if r.mark.kind == "film_base"]
    ruled = rule_on_readings(home, SETTINGS, ORE, "correct_reading", asked, "NITRATE", "film_base")
    assert "F1 / 0001" in holds(home)
    review.undo(home, SETTINGS, ORE, ruled.numbers[0])  # as if it had not been said
    assert "F1 / 0001" not in holds(home)
    rerun(home, {"colour": (READ,)})
    d = known(home)["F1 / 0001"]
    asked = [AskedReading(d.key, r.mark.kind, r.mark.box, r.seen) for r in d.readings]
    rule_on_readings(home, SETTINGS, ORE, "reject_reading", asked)
    assert "F1 / 0001" in holds(home)


def test_film_noted_anew_brings_it_back(home: Home) -> None:
    clear(home, "0001")
    note(home, "0001", "decay", "amber at one edge", who=ORE)
    assert "F1 / 0001" in holds(home) and row(home, "F1/0001.tif")["hazard"] == "possible_nitrate; decay"


def test_what_was_read_since_it_was_proposed_keeps_it_from_being_confirmed(home: Home) -> None:
    number = propose(home, "box")
    shown = waiting(home, number).seen
    rerun(home, {"mono": (READ,)})
    with pytest.raises(RulingRefused, match="NITRATE has been read"):
        noting.confirm_clearing(home, SETTINGS, ORE, number, shown)
    assert waiting(home, number).against and holds(home) == ALL_FILM


def test_a_page_that_shows_less_than_now_proposes_nothing(home: Home) -> None:
    view = box(home)
    add(home, received("F1/0010.tif"))
    with pytest.raises(RulingRefused, match="has changed since"):
        noting.propose_clearing(home, SETTINGS, IDA, view.token, view.token, "maker", REPORT, view.seen)


def test_two_at_once_make_one_clearing(home: Home) -> None:
    number = propose(home, "0001")
    seen = waiting(home, number).seen

    def try_it(who: str) -> str:
        try:
            return str(noting.confirm_clearing(home, SETTINGS, who, number, seen))
        except RulingRefused as error:
            return str(error)

    with ThreadPoolExecutor(2) as two:
        said = sorted(two.map(try_it, [ORE, "Zoë Ånd"]), key=len)
    assert said[0].isdigit() and "has confirmed it already" in said[1]
    assert "F1 / 0001" not in holds(home)


def test_progress_counts_holds(home: Home) -> None:
    assert {b.box: b.on_hold for b in progress(home).boxes} == {"F1": 4, "F2": 1}
    clear(home, "box")
    assert {b.box: b.on_hold for b in progress(home).boxes} == {"F1": 0, "F2": 1}


def test_rows_are_added_and_never_changed(home: Home) -> None:
    def made() -> list[Decision]:
        with home.database.read() as connection:
            return decisions.all_decisions(connection)

    before: list[Decision] = []
    first, second = clear(home, "0001")
    for number, who in ((second, ORE), (first, IDA)):
        now = made()
        assert now[: len(before)] == before
        before = now
        review.undo(home, SETTINGS, who, number)
    assert [d.verb for d in made()] == ["propose_clearing", "confirm_clearing", "undo", "undo"]


SHORT = Stamps({s: f"s-{s}" for s in STAMPS.stages}, "s", "m")
LATER_RUN = Stamps({s: f"t-{s}" for s in STAMPS.stages}, "t", "m")


@pytest.fixture
def postgres(postgres_url: str) -> Iterator[Database]:
    made = Database(postgres_url)
    yield made
    made.close()


@pytest.mark.postgres
def test_the_same_on_postgresql(postgres: Database) -> None:
    postgres.make_tables()
    postgres.make_tables()
    scan = FILES["mono"]
    with postgres.write() as connection:
        scans.put_consignment(connection, "C", "/received", AT, False)
        scans.add_scans(connection, [(scan, 1)], AT)
        runs.start_run(connection, AT, {}, SHORT)
    place: Any = SimpleNamespace(database=postgres)
    write(Written(place, SHORT), scan, "film_negative", MARKS["mono"])

    def on_hold() -> bool:
        with postgres.read() as connection:
            return bool(box_hazards(connection, desk.shown_stamps(connection))[0].held)

    assert on_hold()
    key = PartKey(scan.digest, 1)
    says = {"consignment": "C", "box": "F1", "pieces": ["0002"], "places": [["0002", 0, 0, 1, 1]], "seen": []}
    with postgres.write() as connection:
        number = decisions.add_decision(connection, AT, IDA, "propose_clearing", [key], says)
        decisions.add_decision(connection, AT, ORE, "confirm_clearing", [key], {"proposal": number})
    assert not on_hold()
    write(Written(place, LATER_RUN), scan, "film_negative", (), READ)
    assert on_hold(), "read under any settings"
    with postgres.read() as connection:
        assert hazards_of(connection, [scan]).nitrate
