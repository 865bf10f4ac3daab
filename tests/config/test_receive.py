"""Reading names: the shipped patterns, and patterns that miss their own examples."""

import tomllib
from typing import Any

import pytest
from pydantic import ValidationError

from intake.config.receive import ReceiveRules, piece_number
from tests.made import CONFIG, section

RULES = section(ReceiveRules, CONFIG / "receive.toml")


@pytest.mark.parametrize(
    ("stem", "read"),
    [
        # The three of the task.
        ("2026-014_B03_0017_front", ("0017", "recto")),
        ("B03-17r", ("0017", "recto")),
        ("0017 back (2)", ("0017", "verso")),
        ("2026-014_b03_17_BACK", ("0017", "verso")),
        ("2026-014 box 3 0017 v", ("0017", "verso")),
        ("2026-014_B03_17a_recto", ("0017a", "recto")),
        ("2026-014_B03_00017A", ("0017a", "recto")),
        ("2026-014_B03_0017_rescan", ("0017", "recto")),
        ("Box 12 - 5".replace(" - ", "-"), ("0005", "recto")),
        ("B03-123456", None),
        ("0017_v", ("0017", "verso")),
        ("17", ("0017", "recto")),
        ("0000", ("0000", "recto")),
        ("Untitled scan", None),
        ("IMG_0017", None),
        ("", None),
        ("1" * 201, None),
    ],
)
def test_names(stem: str, read: tuple[str, str] | None) -> None:
    assert RULES.name_parts(stem) == read


@pytest.mark.parametrize(
    ("text", "number"),
    [("17", "0017"), ("0017", "0017"), ("00017", "0017"), ("12345", "12345"), ("17B", "0017b"), ("0", "0000"),
     ("", ""), ("17-2", "17-2"), ("A17", "A17"), ("u\u0308", "\u00fc"), ("\u0661\u0667", "\u0661\u0667"),
     ("\u00b2", "\u00b2"), ("0" * 100_000 + "x y", "0" * 100_000 + "x y")],
)  # fmt: skip
def test_piece_numbers(text: str, number: str) -> None:
    assert piece_number(text) == number
    assert piece_number(number) == number


def rules(**changed: Any) -> dict[str, Any]:
    return {**tomllib.loads((CONFIG / "receive.toml").read_text(encoding="utf-8")), **changed}


def pattern(regex: str, name: str, piece: str, side: str, *not_examples: str) -> dict[str, Any]:
    return {"regex": regex, "examples": [{"name": name, "piece": piece, "side": side}], "not_examples": not_examples}


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (pattern(r"(?P<piece>\d+)", "seventeen", "0017", "recto"), "'seventeen' reads as None"),
        (pattern(r"(?P<piece>\d+)", "17", "17", "recto"), "'17' reads as .*0017"),
        (pattern(r"(?P<piece>\d+)(?P<side>v)?", "17v", "0017", "recto"), "verso"),
        (pattern(r"(?P<piece>\d+)", "17", "0017", "recto", "18"), "'18' is a counter-example"),
        (pattern(r"(\d+)", "17", "0017", "recto"), "no group named 'piece'"),
        (pattern(r"(?P<piece>\d+", "17", "0017", "recto"), "is no pattern: missing"),
    ],
)
def test_a_pattern_that_misses_its_example_does_not_load(made: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        ReceiveRules.model_validate(rules(patterns=[made]))


def test_a_pattern_shadowed_by_one_before_it_misses_its_example() -> None:
    greedy = pattern(r"(?P<piece>.+)", "x", "x", "recto")
    with pytest.raises(ValidationError, match="0017 back"):
        ReceiveRules.model_validate(rules(patterns=[greedy, *rules()["patterns"]]))


def test_every_missed_example_is_told_at_once() -> None:
    wrong = [pattern(r"(?P<piece>\d+)", name, "0001", "recto") for name in ("one", "two")]
    with pytest.raises(ValidationError, match=r"'one'.*'two'"):
        ReceiveRules.model_validate(rules(patterns=wrong))


def test_an_unknown_word_for_a_side_is_said_to_be_unknown() -> None:
    made = ReceiveRules.model_validate(
        rules(patterns=[pattern(r"(?P<piece>\d+)(?P<side>[a-z]+)", "17edge", "0017", "unknown")])
    )
    assert made.name_parts("18detail3") is None
    assert made.name_parts("18detail") == ("0018", "detail")
