"""Which of two pieces came first: only where reasons suffice and agree; kinds say nothing."""

import math

from intake.kin import Difference, Differences
from intake.model import Box, InkScreen, PartKey
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


def _screens(*angles: float, period: float = 4.0) -> tuple[InkScreen, ...]:
    return tuple(InkScreen("", 85.0, period, angle, 300.0) for angle in angles)


def _film_of_print(film: tuple[InkScreen, ...], kind: str = "film_negative") -> list[tuple[PartKey, PartKey, bool]]:
    """What is told of a print of a screen of 4 px and of film on which its picture is a quarter as large."""
    made = {
        A: Made("the sheet", "finished_sheet", "screened", screens=_screens(15, 45, 75)),
        B: Made("the film", kind, "screened", screens=film),
    }
    report = Differences(A, B, (), seen_a=Box(0, 0, 4000, 6000), seen_b=Box(9, 9, 1500, 1000))
    return [(t.earlier, t.later, t.sure) for t in order(made, [report], RULES)]


def test_film_that_shows_a_print_s_own_screens_at_its_size_was_shot_from_it() -> None:
    """A film made for printing holds one ink's screen; each ink of a print has its own angle (ISO 12647-2)."""
    size = math.sqrt(1000 * 1500 / (4000 * 6000))
    assert _film_of_print(_screens(15, 45, 75, period=4.0 * size)) == [(A, B, True)]
    # one angle: it may be the film that the sheet was printed from; another ruling: film of another printing
    assert _film_of_print(_screens(45, 45.5, 135, period=4.0 * size)) == [(A, B, False)]
    assert _film_of_print(_screens(15, 45, 75, period=5.0 * size)) == [(A, B, False)]
    assert _film_of_print(_screens(15, 45, 75, period=4.0 * size), "separation") == []


def test_brushwork_on_film_says_that_the_painting_was_there_and_a_later_strip_on_it_leaves_it_unsure() -> None:
    made = {A: Made("the painting", "artwork"), B: Made("the negative", "film_negative")}
    (told,) = order(made, [Differences(A, B, ())], RULES, [(A, B)])
    assert told.sure and (told.earlier, told.later) == (A, B)
    (told,) = order(made, [_covered(A, B, "the first")], RULES, [(A, B)])
    assert not told.sure and told.reasons and told.contrary
