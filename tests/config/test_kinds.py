"""Kinds and queue: every one has its row."""

import tomllib
from typing import Any, get_args

import pytest
from pydantic import ValidationError

from intake.config.kinds import KindTable
from intake.config.queue import QueueRules
from intake.model import Kind
from tests.made import CONFIG, section


def raw(name: str) -> dict[str, Any]:
    return tomllib.loads((CONFIG / name).read_text(encoding="utf-8"))


def test_every_kind_of_the_model_has_words_and_a_place_of_its_own() -> None:
    kinds = section(KindTable, CONFIG / "kinds.toml").kinds
    assert set(kinds) == set(get_args(Kind))
    assert len({k.order for k in kinds.values()}) == len(kinds)
    assert len({k.words for k in kinds.values()}) == len(kinds)
    assert {name for name, k in kinds.items() if not k.matched} == {"reverse", "document", "target"}


@pytest.mark.parametrize("change", ["left out", "unknown"])
def test_a_kind_left_out_or_unknown_is_named(change: str) -> None:
    held = raw("kinds.toml")
    if change == "left out":
        del held["kinds"]["rough"]
    else:
        held["kinds"]["hologram"] = {"words": "hologram", "order": 99}
    with pytest.raises(ValidationError, match="rough" if change == "left out" else "hologram"):
        KindTable.model_validate(held)


def test_a_reason_left_out_or_unknown_is_named() -> None:
    held = raw("queue.toml")
    held["reasons"]["mood"] = held["reasons"].pop("news")
    with pytest.raises(ValidationError, match=r"mood.*news|news.*mood"):
        QueueRules.model_validate(held)
