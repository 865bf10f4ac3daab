"""Cleaning and comparing what readers said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.model import ReaderSaid
from intake.ocr.text import agree, clean, edit_distance, is_settled, plausibility, spaced_like, squeeze


@pytest.mark.parametrize(
    ("a", "b", "distance"),
    [  # textbook examples of the Levenshtein distance
        ("kitten", "sitting", 3),
        ("saturday", "sunday", 3),
        ("flaw", "lawn", 2),
        ("intention", "execution", 5),
        ("", "abc", 3),
    ],
)
def test_edit_distance_of_the_textbooks(a: str, b: str, distance: int) -> None:
    assert edit_distance(a, b) == distance == edit_distance(b, a)


@pytest.mark.parametrize(
    ("truth", "read", "rate"), [("PRINTED IN ENGLAND", "PR1NTED IN ENGIAND", 2 / 18), ("77/21", "7721", 1 / 5)]
)
def test_character_error_rate_is_distance_over_length_of_the_truth(truth: str, read: str, rate: float) -> None:
    # CER as commonly defined: edit distance / characters of the truth.
    assert edit_distance(truth, read) / len(truth) == pytest.approx(rate)


@given(st.text(max_size=30), st.text(max_size=30), st.text(max_size=30))
def test_edit_distance_is_a_metric(a: str, b: str, c: str) -> None:
    assert edit_distance(a, b) == edit_distance(b, a)
    assert (edit_distance(a, b) == 0) == (a == b)
    assert edit_distance(a, c) <= edit_distance(a, b) + edit_distance(b, c)


@given(st.text(max_size=2000))
def test_cleaned_text_is_short_and_holds_no_hidden_characters(text: str) -> None:
    cleaned = clean(text)
    assert len(cleaned) <= 400
    assert cleaned.isprintable()
    assert clean(cleaned) == cleaned


def test_direction_marks_and_controls_are_dropped_and_markup_stays_text() -> None:
    assert clean("61/\u202e204\x00\x1b[31m\u200f <b>x</b>") == "61/204[31m <b>x</b>"


def test_right_to_left_and_wide_scripts_survive() -> None:
    assert clean(" בדפוס  תל ") == "בדפוס תל"
    assert clean("映倫 10432") == "映倫 10432"
    assert clean("Tolver， Leeds ６１／204") == "Tolver, Leeds 61/204"


def test_compared_without_spaces_case_and_accents() -> None:
    assert squeeze("Dépôt  Légal 1962") == squeeze("depotlegal1962")
    assert squeeze("Visa N° 12’") == squeeze("visa nº12'")


@pytest.mark.parametrize(
    ("text", "other", "spaced"),
    [
        ("PRINTEDINENGLAND", "PRINTED IN ENGLAND", "PRINTED IN ENGLAND"),
        ("Imp.Verrol,Paris", "Imp. Verro1, Paris", "Imp. Verrol, Paris"),
        ("61/204", "EE @", "61/204"),
        ("", "a b", ""),
    ],
)
def test_spaces_come_from_the_second_reader(text: str, other: str, spaced: str) -> None:
    assert spaced_like(text, other) == spaced


def test_the_same_engine_twice_is_no_second_opinion() -> None:
    narrow, wide = ReaderSaid("ppocr x1", "61/204", 0.99), ReaderSaid("ppocr x1.3", "61/204", 0.99)
    assert not agree((narrow, wide))
    assert agree((narrow, wide, ReaderSaid("tesseract", "61 /204", 0.5)))
    assert not agree((ReaderSaid("ppocr x1", "", 0.0), ReaderSaid("tesseract", "", 0.0)))


def test_a_mixture_of_scripts_is_less_plausible_than_words() -> None:
    words = ReaderSaid("r", "PRINTED IN ENGLAND", 0.9)
    assert plausibility(words) > 1.5 * plausibility(ReaderSaid("r", "中PЯ印イᗡ王", 0.9))
    assert plausibility(ReaderSaid("r", "", 1.0)) == 0


def test_a_line_is_settled_by_two_engines_or_by_one_that_is_sure_twice() -> None:
    one, wide = ReaderSaid("ppocr x1", "61/204", 0.9, 0.85), ReaderSaid("ppocr x1.3", "61 / 204", 0.9, 0.8)
    assert is_settled((one, wide), 0.8) and not is_settled((one, wide), 0.81)
    assert not is_settled((one,), 0.8) and not is_settled((one, ReaderSaid("ppocr x1.3", "61/209", 0.9, 0.9)), 0.8)
    assert is_settled((one, ReaderSaid("tesseract", "61/204", 0.1, 0.0)), 0.99)
