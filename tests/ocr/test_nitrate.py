"""NITRATE is heard through a reader's slips; SAFETY never is taken for it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.ocr.nitrate import says_nitrate
from intake.ocr.text import edit_distance


@pytest.mark.parametrize(
    "text",
    ["NITRATE", "edge n i t r a t e 12", "N1TRATE", "NITRAT", "ITRATE 9", "HN1TRA7E", "NITRATE FILM SAFETY", "Nitraté"],
)
def test_it_is_heard(text: str) -> None:
    assert says_nitrate(text)


@pytest.mark.parametrize(
    "text", ["", "SAFETY", "SAFETY FILM 5063", "TARVEL PAN 41", "RATED U", "1949", "PRINTED IN ITALY"]
)
def test_nothing_else_is(text: str) -> None:
    assert not says_nitrate(text)


@given(
    st.text("xy ", max_size=12), st.integers(0, 6), st.sampled_from("QWXZ"), st.sampled_from(["put", "drop", "swap"])
)
def test_one_slip_hides_nothing(around: str, at: int, letter: str, slip: str) -> None:
    word = {
        "put": "NITRATE"[:at] + letter + "NITRATE"[at:],
        "drop": "NITRATE"[:at] + "NITRATE"[at + 1 :],
        "swap": "NITRATE"[:at] + letter + "NITRATE"[at + 1 :],
    }[slip]
    assert edit_distance(word, "NITRATE") == 1
    assert says_nitrate(around + word + around)
