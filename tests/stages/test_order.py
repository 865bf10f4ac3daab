"""Which of two pieces came first: only where reasons suffice and agree; kinds say nothing."""

from intake.kin import Difference, Differences
from intake.model import Box, PartKey
from intake.stages.order import Made, order
from tests.made import SETTINGS

A, B, C = PartKey("a", 1), PartKey("b", 1), PartKey("c", 1)
HERE = Box(0, 0, 10, 10)
RULES = SETTINGS.order
# As if the name of a place were sure enough to decide alone.
DECIDING = RULES.model_copy(
    update={"says": RULES.says | {"covered": RULES.says["covered"].model_copy(update={"weight": RULES.least})}}
)


def _covered(a: PartKey, b: PartKey, on: str) -> Differences:
    return Differences(a, b, (Difference("covered", HERE, HERE, 0.97, f"covered on {on}"),))


def test_what_is_covered_on_the_second_stood_on_the_first() -> None:
    made = {A: Made("the painting", "artwork"), B: Made("the negative", "film_negative")}
    (told,) = order(made, [_covered(A, B, "the second")], DECIDING)
    assert told.sure and (told.earlier, told.later) == (A, B)
    (told,) = order(made, [_covered(A, B, "the first")], DECIDING)
    assert told.sure and (told.earlier, told.later) == (B, A)


def test_what_a_place_is_called_decides_nothing_alone() -> None:
    made = {A: Made("the painting", "artwork"), B: Made("the negative", "film_negative")}
    (told,) = order(made, [_covered(A, B, "the second")], RULES)
    assert not told.sure and told.reasons and not told.contrary


def test_kinds_alone_say_nothing() -> None:
    made = {A: Made("the painting", "artwork", "continuous"), B: Made("the sheet", "finished_sheet", "screened")}
    assert order(made, [Differences(A, B, ())], RULES) == []


def test_reasons_that_speak_both_ways_leave_it_unsure_and_are_shown() -> None:
    made = {
        A: Made("one sheet", "finished_sheet", "rescreened"),
        B: Made("another", "finished_sheet", "screened"),
    }
    (told,) = order(made, [_covered(A, B, "the second")], DECIDING)
    assert not told.sure and told.reasons and told.contrary


def test_dates_order_only_where_they_cannot_meet() -> None:
    made = {
        A: Made("one", "finished_sheet", until=1956),
        B: Made("another", "finished_sheet", not_before=1971, firm=True),
        C: Made("a third", "finished_sheet", not_before=1956, firm=True),
    }
    told = order(made, [], RULES)
    assert [(t.earlier, t.later, t.sure) for t in told] == [(A, B, True)]


def test_a_circle_is_unsure_as_a_whole() -> None:
    made = {k: Made(k.digest, "finished_sheet") for k in (A, B, C)}
    reports = [_covered(A, B, "the second"), _covered(B, C, "the second"), _covered(A, C, "the first")]
    assert [t.sure for t in order(made, reports, DECIDING)] == [False, False, False]
