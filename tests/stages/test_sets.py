"""Numbered sets: told from doubles and from posters, whatever the order, the text and the number of cards.

That cards of a set share size, caption and border, not picture and number, is common practice (config/formats.csv).
"""

import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.config.sets import SetRules
from intake.kin import NumberedSet
from intake.stages.sets import Caption, Card, sets
from tests.made import key, section

RULES = section(SetRules, Path("config/sets.toml"))
TITLE = Caption("THE COPPER LANTERN", 0.3, 0.93)


def card(number: str, title: str = "THE COPPER LANTERN", **given: object) -> Card:
    """A still of its own name, with its number in the lower right corner."""
    captions = (replace(TITLE, text=title), Caption(number, 0.9, 0.95))
    made = Card(key(f"{number} {title} {sorted(given.items())}"), "C", "still", 254.0, 203.2, captions)
    return replace(made, **given)  # type: ignore[arg-type]


def numbers(found: list[NumberedSet]) -> list[list[int]]:
    return [[n for _, n in s.numbers] for s in found]


@pytest.mark.parametrize("word", ["", "DC-", "No. ", "PL/"])
def test_cards_of_one_caption_and_their_own_numbers_are_a_set(word: str) -> None:
    cards = [card(f"{word}{n}") for n in (4, 12, 7)]
    (found,) = sets(cards, RULES)
    assert [n for _, n in found.numbers] == [4, 7, 12]
    assert {k for k, _ in found.numbers} == {c.key for c in cards}


def test_slips_in_a_caption_leave_the_set_whole_by_its_other_lines() -> None:
    company = Caption("ALDEN PICTURES", 0.5, 0.97)
    cards = [
        replace(c, captions=(*c.captions, company)) for c in (card("1"), card("2"), card("3", "THE C0PPER LANTERM"))
    ]
    assert numbers(sets(cards, RULES)) == [[1, 2, 3]]


@pytest.mark.parametrize(
    "other",
    [
        card("5", "NINE BELLS AT NORSTAD"),
        card("5", owner="D"),
        card("5", kind="photograph"),
        card("5", width_mm=300.0, height_mm=240.0),
        card("4", width_mm=254.5),  # the same number: a second copy
        card("B 5"),  # numbers of another series
        card("5", captions=(TITLE, Caption("5", 0.1, 0.1))),
        card("5", captions=(replace(TITLE, y=0.1), Caption("5", 0.9, 0.95))),
        card("1961"),  # a year
        card("64/118"),
        card(""),
    ],
)
def test_what_is_no_set_with_card_4(other: Card) -> None:
    assert sets([card("4"), other], RULES) == []


def test_a_second_copy_is_of_the_set_too() -> None:
    copy = replace(card("4"), key=key("second copy"))
    assert numbers(sets([card("4"), copy, card("5")], RULES)) == [[4, 4, 5]]


def test_posters_are_no_cards_whatever_their_numbers() -> None:
    sheets = [card(n, kind="finished_sheet", width_mm=685.8, height_mm=1016.0) for n in ("4", "5")]
    assert sets(sheets, RULES) == []


rows = st.lists(
    st.tuples(st.integers(1, 4), st.sampled_from(["THE COPPER LANTERN", "NINE BELLS AT NORSTAD"]), st.booleans()),
    max_size=12,
)


@settings(max_examples=60, deadline=None)
@given(rows, st.randoms())
def test_nothing_hangs_on_the_order(made: list[tuple[int, str, bool]], random: object) -> None:
    cards = [
        replace(card(str(n), title, kind="still" if still else "photograph"), key=key(str(place)))
        for place, (n, title, still) in enumerate(made)
    ]
    first = sets(cards, RULES)
    random.shuffle(cards)  # type: ignore[attr-defined]
    assert sets(cards, RULES) == first
    keys = [k for s in first for k, _ in s.numbers]
    assert len(keys) == len(set(keys))
    assert all(len({n for _, n in s.numbers}) > 1 for s in first)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=200), max_size=6))
def test_any_text_is_harmless(texts: list[str]) -> None:
    captions = tuple(Caption(t, 0.5, 0.5) for t in texts)
    sets([card("1", captions=captions), card("2", captions=captions)], RULES)


def test_ten_thousand_cards_under_one_caption_are_bounded() -> None:
    cards = [
        replace(card(str(n % 900 + 1)), key=key(str(n)), width_mm=100.0 + n % 500, height_mm=90.0)
        for n in range(10_000)
    ]
    started = time.process_time()
    sets(cards, RULES)
    assert time.process_time() - started < 20
