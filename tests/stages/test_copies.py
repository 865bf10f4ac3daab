"""Copies of one printing: what tells printings apart, sheets scanned twice, and which is the best preserved."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.stages.copies import Copy, printings

A, B, D, E = (("C", "B1", n) for n in ("1", "2", "3", "4"))
SHEET = ("finished_sheet",)


def _copy(piece: tuple[str, str, str], **given_: object) -> Copy:
    return Copy(piece, "finished_sheet", **given_)  # type: ignore[arg-type]


def _marks(**values: str) -> dict[str, frozenset[str]]:
    return {k: frozenset(v.split("|")) for k, v in values.items()}


def test_copies_are_of_one_printing_unless_a_mark_or_a_format_tells_them_apart() -> None:
    plain = [
        _copy(A, marks=_marks(printer="vella|rook")),
        _copy(B),
        _copy(D, marks=_marks(printer="vella", copyright="1956")),
    ]
    (only,) = printings(plain, (), SHEET)
    assert [c.piece for c in only.copies] == [A, B, D] and only.least == 3
    assert only.marked == (("printer", "rook"), ("printer", "vella"))
    other = [*plain, _copy(E, marks=_marks(printer="adro"))]
    assert [len(p.copies) for p in printings(other, (), SHEET)] == [3, 1]
    sizes = [_copy(A, format="uk_quad"), _copy(B, format="us_1sh_old"), _copy(D)]
    assert sorted(len(p.copies) for p in printings(sizes, (), SHEET)) == [1, 2]
    assert printings([replace(_copy(A), kind="artwork")], (), SHEET) == []


def test_a_film_s_own_year_tells_no_printings_apart() -> None:
    both = [_copy(A, marks=_marks(copyright="1956")), _copy(B, marks=_marks(copyright="1957"))]
    assert len(printings(both, (), SHEET)) == 1


def test_what_may_be_one_sheet_scanned_twice_is_counted_from_to() -> None:
    four = [_copy(p) for p in (A, B, D, E)]
    (only,) = printings(four, {frozenset((A, B)), frozenset((B, D)), frozenset((A, D))}, SHEET)
    assert (only.least, len(only.copies)) == (2, 4)


@pytest.mark.parametrize(
    ("first", "second", "best", "words"),
    [
        ({"grade": ("words", 3, "Fine")}, {"grade": ("words", 5, "Good")}, A, "graded Fine, the next Good"),
        ({"grade": ("words", 3, "Fine")}, {"grade": ("words", 3, "Fine")}, None, "two or more are graded Fine"),
        ({"grade": ("words", 3, "Fine"), "confirmed": 4}, {"grade": ("letters", 0, "A+"), "confirmed": 1}, B, "stated"),
        ({"confirmed": 1, "suggested": 9.0}, {"confirmed": 2}, A, "1 worn places stated by people, the next 2"),
        ({"suggested": 3.1, "looked": True}, {"suggested": 0.9, "looked": True}, B, "nobody has graded"),
        ({"suggested": 1.1, "looked": True}, {"suggested": 0.9, "looked": True}, None, "nothing tells"),
        ({"suggested": 3.1, "looked": True}, {"suggested": 0.0, "looked": False}, None, "nothing tells"),
        ({}, {}, None, "nothing tells"),
    ],
)  # fmt: skip
def test_the_best_preserved_by_what_people_said_before_what_was_suggested(
    first: dict[str, object], second: dict[str, object], best: object, words: str
) -> None:
    (only,) = printings([_copy(A, **first), _copy(B, **second)], (), SHEET)
    assert only.best == best and words in only.why


_COPIES = st.lists(
    st.builds(
        Copy,
        st.tuples(st.just("C"), st.just("B"), st.text("abcdefgh", min_size=1, max_size=1)),
        st.sampled_from(["finished_sheet", "artwork"]),
        st.sampled_from(["", "x", "y"]),
        st.dictionaries(st.sampled_from(["printer", "style"]), st.frozensets(st.sampled_from("pq"), min_size=1)),
    ),
    unique_by=lambda c: c.piece,
)


@given(_COPIES, st.randoms())
def test_every_copy_is_in_one_printing_whatever_their_order(copies: list[Copy], random: object) -> None:
    told = printings(copies, (), SHEET)
    assert sorted(c.piece for p in told for c in p.copies) == sorted(c.piece for c in copies if c.kind in SHEET)
    shuffled = list(copies)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert printings(shuffled, (), SHEET) == told
