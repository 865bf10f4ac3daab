"""Settings stamps: a change remakes exactly what hangs on it."""

import os
import subprocess
import sys
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from intake.config.load import SECTIONS, Config, load_config
from intake.model import Stamps
from intake.services import stamps
from intake.services.stamps import BEFORE, stamps_of
from tests.made import CONFIG, ROOT, SETTINGS

LOADED = load_config(CONFIG)
STAGES = tuple(BEFORE)
# Section of config/ -> the stages whose results hang on it, each written out: check is first in every scan's way.
HANG_ON = {
    "points": set(),
    "learn": set(),
    "elements": set(),
    "signature": set(),
    "very_object": set(),
    "check": set(STAGES),
    "render": set(STAGES) - {"check"},
    "fold": {"fold", "condition"},
    "condition": {"condition"},
    "rescan": {"rescan"},
    "classify": {
        "classify",
        "fold",
        "condition",
        "rescan",
        "read",
        "measure",
        "screen",
        "snipe",
        "fingerprint",
        "barcode",
        "parse",
    },
    "read": {"read", "measure", "parse"},
    "measure": {"measure"},
    "fingerprint": {"fingerprint"},
    "screen": {"screen"},
    "snipe": {"snipe"},
    "barcode": {"barcode", "parse"},
    "parse": {"parse"},
    "formats": {"measure"},
    "patterns": {"parse"},
    "certificates": {"parse"},
    "match": set(),
    # What these say changes no result of a single scan.
    **{
        key: set()
        for key in (
            "receive",
            "run",
            "group",
            "sets",
            "campaign",
            "queue",
            "kinds",
            "findings",
            "dating",
            "hazards",
            "grades",
            "fading",
            "differ",
            "order",
            "clash",
            "lanes",
            "looking",
            "terms",
            "records",
            "sampling",
            "papers",
            "paper_template",
            "entry",
        )
    },
}
MATCHING = {"check", "render", "classify", "fingerprint", "match"}


@pytest.fixture(autouse=True, scope="module")
def _ask_engines_once() -> Any:
    versions = stamps.engine_versions()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stamps, "engine_versions", lambda: versions)
        yield


def other(value: Any) -> Any:
    """A value of the same sort that is not the same."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, frozenset):
        return value ^ {"x"}
    if isinstance(value, tuple):
        return (*value[:-1], other(value[-1])) if value else ("x",)
    if isinstance(value, dict):
        return {**value, next(iter(value)): other(next(iter(value.values())))} if value else {"x": 1.0}
    if isinstance(value, BaseModel):
        name = next(iter(type(value).model_fields))
        return value.model_copy(update={name: other(getattr(value, name))})
    return "x"  # was None


def changed_by(section: str, value: Any) -> tuple[set[str], bool, bool]:
    """(stages with another stamp, whether the whole has, whether matching has)."""
    before, after = stamps_of(LOADED), stamps_of(LOADED.model_copy(update={section: value}))
    return (
        {s for s in STAGES if before.stages[s] != after.stages[s]},
        before.whole != after.whole,
        before.match != after.match,
    )


def test_every_section_is_accounted_for() -> None:
    assert set(HANG_ON) == set(Config.model_fields)


@settings(max_examples=120, deadline=None)
@given(data=st.data())
def test_a_changed_key_changes_exactly_what_hangs_on_it(data: st.DataObject) -> None:
    section = data.draw(st.sampled_from(sorted(SECTIONS)))
    value = getattr(LOADED, section)
    name = data.draw(st.sampled_from(sorted(type(value).model_fields)))
    changed = value.model_copy(update={name: other(getattr(value, name))})
    assert changed != value
    assert changed_by(section, changed) == (HANG_ON[section], bool(HANG_ON[section]), section in MATCHING)


@pytest.mark.parametrize("section", ["formats", "patterns", "certificates"])
def test_a_changed_row_changes_exactly_what_hangs_on_it(section: str) -> None:
    rows = getattr(LOADED, section)
    for value in ((*rows[:-1], other(rows[-1])), rows[:-1], tuple(reversed(rows))):
        assert changed_by(section, value) == (HANG_ON[section], True, False)


def test_newer_code_of_a_stage_remakes_it_and_those_after_it(monkeypatch: pytest.MonkeyPatch) -> None:
    before = stamps_of(LOADED)
    for stage in STAGES:
        with monkeypatch.context() as patch:
            patch.setitem(stamps._VERSIONS, stage, 1000)
            after = stamps_of(LOADED)
        assert {s for s in STAGES if before.stages[s] != after.stages[s]} == HANG_ON[stage]
    monkeypatch.setitem(stamps._VERSIONS, "match", 1000)
    after = stamps_of(LOADED)
    assert (after.stages, after.whole) == (before.stages, before.whole)
    assert after.match != before.match


def test_another_engine_is_read_with_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    before = stamps_of(LOADED)
    monkeypatch.setattr(stamps, "engine_versions", lambda: {"reader": "another"})
    after = stamps_of(LOADED)
    assert {s for s in STAGES if before.stages[s] != after.stages[s]} == HANG_ON["read"]
    assert after.match == before.match


def test_no_two_stages_share_a_stamp_and_all_fit_the_ledger() -> None:
    made = stamps_of(LOADED)
    every = [*made.stages.values(), made.whole, made.match]
    assert len(set(every)) == len(every)
    assert {len(s) for s in every} == {16}


def test_other_processes_come_to_the_same_stamps() -> None:
    """Python walks sets of text in another order in every process: a stamp may not hang on that."""
    code = (
        "from pathlib import Path; from intake.config.load import load_config; from intake.services import stamps;"
        "stamps.engine_versions = dict; print(stamps.stamps_of(load_config(Path('config'))))"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(said) == 1
    assert said.pop().startswith(Stamps.__name__)


def test_stages_stand_in_the_order_in_which_a_scan_travels() -> None:
    seen: set[str] = set()
    for stage, before in BEFORE.items():
        assert set(before) <= seen
        seen.add(stage)


def test_pairs_are_compared_again_when_either_stage_of_matching_tells_otherwise(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = stamps_of(SETTINGS)
    monkeypatch.setattr(stamps.twice, "VERSION", "other")
    after = stamps_of(SETTINGS)
    assert after.match != before.match and after.stages == before.stages
