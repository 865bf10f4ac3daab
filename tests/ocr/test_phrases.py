"""Fixed words of print codes despite slips and lost spaces."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.ocr.phrases import with_phrase

IMPRINT = "PRINTED IN ENGLAND BY"


@pytest.mark.parametrize(
    ("text", "mended"),
    [
        ("PrintedinEnglandbyMarnock Press", "PRINTED IN ENGLAND BY Marnock Press"),
        ("PR1NTED IN ENGIAND BY MARNOCK", "PRINTED IN ENGLAND BY MARNOCK"),
        ("x PRINTED 1N ENGLAND BY Y", "x PRINTED IN ENGLAND BY Y"),
        ("PRINTED ENGLAND BY Y", "PRINTED IN ENGLAND BY Y"),
    ],
)
def test_slips_and_lost_spaces_are_mended(text: str, mended: str) -> None:
    assert with_phrase(text, IMPRINT) == mended


@pytest.mark.parametrize("text", ["", "A TALE OF ENGLAND", "PAINTED IN ICELAND FOR"])
def test_other_words_are_left_alone(text: str) -> None:
    assert with_phrase(text, IMPRINT) is None


def test_short_phrases_must_stand_as_they_are() -> None:
    assert with_phrase("IMPVERROL", "IMP.") is None
    assert with_phrase("IMP.VERROL", "IMP.") == "IMP. VERROL"


@given(st.text(max_size=60), st.text(alphabet="ABCDEFG ", max_size=20))
def test_the_phrase_is_found_wherever_it_stands(before: str, after: str) -> None:
    mended = with_phrase(f"{before}{IMPRINT}{after}", IMPRINT)
    assert mended is not None and IMPRINT in mended


def test_hostile_text_costs_little() -> None:
    started = time.process_time()
    for text in ("PRINTED" * 28, "ENGLANDBY" * 22, "P R I N T " * 20):
        with_phrase(text[:200], IMPRINT)
    assert time.process_time() - started < 0.5
