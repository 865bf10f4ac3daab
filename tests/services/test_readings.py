"""Rulings on readings, laid over whatever is read at their place now."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.kin import Decision, Verb
from intake.model import Box, Mark
from intake.services.readings import RuledMark, overlap, ruled_marks
from tests.made import AT, key, mark

HERE = Box(100, 200, 300, 40)
MOVED = Box(103, 198, 296, 42)
FAR = Box(900, 200, 300, 40)


def code(value: str, box: Box = HERE, **given: Any) -> Mark:
    return mark(value, "release_code", box=box, year_from=1961, **given)


def ruling(number: int, verb: Verb, text: str, **shown: Any) -> Decision:
    what = {"kind": "release_code", "place": list(HERE), "text": text, "read": text, "line": f"no. {text}", **shown}
    return Decision(number, AT, "Ida Marl", verb, (key("a"),), what)


def back(number: int, undoes: int) -> Decision:
    return Decision(number, AT, "Ida Marl", "undo", (key("a"),), {}, undoes)


def brief(marks: list[RuledMark]) -> list[tuple[str, str, str, bool]]:
    return [(r.mark.kind, r.mark.value, r.mark.accepted, r.rejected) for r in marks]


def test_without_rulings_marks_are_as_parsed() -> None:
    marks = [code("61/204"), code("61/209", FAR, accepted="no")]
    assert [r.mark for r in ruled_marks(marks, [])] == marks
    assert [r.waits for r in ruled_marks(marks, [])] == [False, True]


def test_a_correction_stands_however_its_place_is_read_again() -> None:
    put = ruling(1, "correct_reading", "61/204", read="61/2O4")
    for now in ([code("61/2O4", accepted="no")], [code("61/294", MOVED)], [code("61/204", MOVED)], []):
        (only,) = ruled_marks(now, [put])
        assert (only.mark.value, only.mark.accepted, only.by) == ("61/204", "person", put), now
        assert only.mark.box == (now[0].box if now else HERE)


def test_years_follow_the_ruling_where_another_value_is_read_and_the_reading_where_it_agrees() -> None:
    put = ruling(1, "correct_reading", "63/204", read="61/204")
    said = {1: replace(code("63/204"), year_from=1963, rule="us_dist_slash", accepted="person")}
    assert ruled_marks([code("61/204")], [put], said)[0].mark.year_from == 1963
    assert ruled_marks([replace(code("63/204"), year_from=1964)], [put], said)[0].mark.year_from == 1964
    assert ruled_marks([], [put])[0].mark.year_from is None and ruled_marks([], [put])[0].mark.rule == "a person"


def test_an_accepted_value_is_not_what_is_read_later() -> None:
    """Nobody has accepted the later value."""
    accepted = ruling(1, "accept_reading", "61/204")
    assert brief(ruled_marks([code("61/299")], [accepted])) == [("release_code", "61/204", "person", False)]


@pytest.mark.parametrize(
    ("value", "gone"), [("61/204", True), ("61 /204", True), ("61/2O4", True), ("61/209", True), ("77/41", False)]
)
def test_what_was_rejected_never_comes_back_and_another_value_waits(value: str, gone: bool) -> None:
    (only,) = ruled_marks([code(value, MOVED)], [ruling(1, "reject_reading", "61/204")])
    assert (only.mark.accepted, only.rejected, only.waits) == ("no", gone, not gone)


def test_a_certificate_of_one_letter_is_near_to_no_other() -> None:
    rejected = ruling(1, "reject_reading", "A", kind="certificate")
    again, other = (mark(v, "certificate", box=HERE) for v in ("A", "X"))
    assert ruled_marks([again], [rejected])[0].rejected and ruled_marks([other], [rejected])[0].waits


def test_rejecting_a_corrected_reading_covers_what_was_read_too() -> None:
    made = [ruling(1, "correct_reading", "77/41", read="61/204"), ruling(2, "reject_reading", "77/41", read="61/204")]
    assert [ruled_marks([code(v)], made)[0].rejected for v in ("61/204", "77/41")] == [True, True]
    assert brief(ruled_marks([], made)) == []


def test_elsewhere_and_other_kinds_are_left_alone() -> None:
    rejected = ruling(1, "reject_reading", "61/204")
    marks = [code("61/204", FAR), mark("61/204", "job", box=HERE)]
    assert [r.mark for r in ruled_marks(marks, [rejected])] == marks


def test_a_kind_that_was_changed_takes_both_kinds_at_its_place() -> None:
    """A job number that is a release code; later settings read the one, the other, or both."""
    put = ruling(1, "correct_reading", "61/204", kind="job", kinds=["job", "release_code"], **{"as": "release_code"})
    job = mark("61/204", "job", box=HERE)
    want = [("release_code", "61/204", "person", False)]
    for now in ([job], [code("61/204")], [job, code("61/204", MOVED)], []):
        assert brief(ruled_marks(now, [put])) == want, now
    later = ruling(2, "reject_reading", "61/204", kinds=["job", "release_code"])
    assert brief(ruled_marks([job], [put, later])) == [("job", "61/204", "no", True)]
    assert brief(ruled_marks([job], [put, later, back(3, 2)])) == want


def test_the_newest_stands_and_undoing_brings_the_older_back() -> None:
    made = [ruling(1, "accept_reading", "61/204"), ruling(2, "correct_reading", "61/209", read="61/204")]
    now = [code("61/204", accepted="no")]
    assert ruled_marks(now, made)[0].mark.value == "61/209"
    assert ruled_marks(now, [*made, back(3, 2)])[0].mark == replace(now[0], accepted="person")
    assert ruled_marks(now, [*made, back(3, 2), back(4, 1)])[0].mark == now[0]
    assert ruled_marks(now, [*made, back(3, 2), back(4, 3)])[0].mark.value == "61/209"


def test_a_ruling_that_knows_no_place_is_passed_over() -> None:
    odd = [ruling(1, "reject_reading", "61/204", place="?"), ruling(2, "reject_reading", "61/204", place=[1, 2])]
    assert ruled_marks([code("61/204")], odd)[0].by is None


boxes = st.builds(Box, st.integers(0, 40), st.integers(0, 40), st.integers(1, 40), st.integers(1, 40))


@given(boxes, boxes)
def test_overlap_is_what_counting_pixels_says(a: Box, b: Box) -> None:
    """Intersection over union, by the definition (Jaccard index)."""
    one, two = (
        {(x, y) for x in range(c.left, c.left + c.width) for y in range(c.top, c.top + c.height)} for c in (a, b)
    )
    assert overlap(a, b) == pytest.approx(len(one & two) / len(one | two))


values = st.sampled_from(["61/204", "61/209", "77/41"])


@given(st.data())
def test_every_ruling_that_stands_is_seen_whatever_is_read(data: st.DataObject) -> None:
    """Of one place: an accepted or put value is there just once; after a rejection nothing is accepted there."""
    made = [
        ruling(
            n, data.draw(st.sampled_from(("accept_reading", "correct_reading", "reject_reading"))), data.draw(values)
        )
        for n in range(1, data.draw(st.integers(1, 5)) + 1)
    ]
    now = [code(data.draw(values), box) for box in data.draw(st.sampled_from([[], [HERE], [MOVED], [HERE, MOVED]]))]
    shown = ruled_marks(now, made)
    accepted = [r.mark.value for r in shown if r.mark.accepted != "no"]
    assert accepted == ([] if made[-1].verb == "reject_reading" else [made[-1].shown["text"]])
