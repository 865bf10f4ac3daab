"""Words folded so that two readings of one word meet. Expectations are common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.ocr.wording import heads_of, words_of


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("The Glass TIDE", ["glass", "tide"]),
        ("LES FENÊTRES D'ÉLODIE", ["fenetres", "elodie"]),
        ("© 1961 Ostmere_Press, No. 12/b", ["ostmere", "press"]),
        ("STRASSE Straße", ["strasse", "strasse"]),
        ("<b>x</b>\u202e\x00", []),
        ("a" * 30, []),
        ("", []),
    ],
)
def test_words(text: str, words: list[str]) -> None:
    assert words_of(text, 4, 24, 300) == words


def test_only_the_beginning_of_a_long_text_is_looked_at() -> None:
    assert words_of("lantern " * 1000, 4, 24, 20) == ["lantern", "lantern", "lant"]


@given(st.text(max_size=600))
def test_words_of_any_text_are_letters_of_bounded_length(text: str) -> None:
    assert all(w.isalpha() and 4 <= len(w) <= 24 for w in words_of(text, 4, 24, 300))


def test_a_slip_stands_for_the_word_that_more_bear() -> None:
    heads = heads_of({"gravenholm": 5, "gravenhulm": 1, "gravenholms": 2, "ravenholm": 1, "norstad": 3, "norstat": 3})
    assert {w: heads[w] for w in ("gravenholm", "gravenhulm", "gravenholms", "ravenholm")} == dict.fromkeys(
        ("gravenholm", "gravenhulm", "gravenholms", "ravenholm"), "gravenholm"
    )
    assert heads["norstat"] == heads["norstad"] == "norstad"


def test_short_words_and_two_slips_are_other_words() -> None:
    assert heads_of({"bells": 3, "balls": 1}) == {"bells": "bells", "balls": "balls"}
    assert heads_of({"gravenholm": 3, "grovenhulm": 1})["grovenhulm"] == "grovenhulm"


def test_slips_do_not_chain() -> None:
    heads = heads_of({"aaaaaaa": 3, "aaaaaab": 2, "aaaaabb": 1})
    assert heads == {"aaaaaaa": "aaaaaaa", "aaaaaab": "aaaaaaa", "aaaaabb": "aaaaabb"}


@given(st.dictionaries(st.text("abc", min_size=6, max_size=9), st.integers(1, 4), max_size=20), st.randoms())
def test_heads_do_not_hang_on_the_order_and_stand_for_themselves(bearers: dict[str, int], random: object) -> None:
    rows = list(bearers.items())
    random.shuffle(rows)  # type: ignore[attr-defined]
    heads = heads_of(bearers)
    assert heads_of(dict(rows)) == heads
    assert all(heads[h] == h for h in heads.values())
