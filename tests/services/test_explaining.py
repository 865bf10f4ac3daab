"""What a run would do and why: exactly what hangs on what changed, counted, with the setting by name."""

from dataclasses import replace
from typing import Any

import pytest

from intake.config.load import Config
from intake.model import StageResult, Stamps
from intake.services import stamps as stamping
from intake.services.explaining import Explained, explain
from intake.services.home import Home
from intake.services.stamps import BEFORE, settings_of, stamps_of
from intake.store import ledger, pairs, runs
from intake.store.pairs import Compared
from tests.made import AT, SETTINGS, Written, checked, key, received
from tests.services.test_stamps import HANG_ON


@pytest.fixture(autouse=True)
def _one_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stamping, "engine_versions", lambda: {"reader": "1.0"})


def done(home: Home, config: Config, settings: bool = True) -> Stamps:
    """A home whose three scans were looked at under these settings; the third could not be opened."""
    stamps = stamps_of(config)
    written = Written(home, stamps)
    files = [received(f"B/{n}.tif") for n in range(3)]
    written.consignment(*files)
    with home.database.write() as connection:
        runs.start_run(connection, AT, {}, stamps, settings_of(config) if settings else None)
        pairs.record_pairs(connection, stamps.match, [Compared((key("B/0.tif"), key("B/1.tif")), 1, None, 0.1)])
    for scan in files[:2]:
        written.looked(scan)
    written.looked(files[2], check=replace(checked(), parts=()))
    rest = [StageResult(key(scan.path), s, stamp, "done", "{}", 0.1) for scan in files[:2]
            for s, stamp in stamps.stages.items() if s != "check"]  # fmt: skip
    with home.database.write() as connection:
        ledger.record(connection, rest, AT)
    return stamps


def changed(section: str, **values: Any) -> Config:
    return SETTINGS.model_copy(update={section: getattr(SETTINGS, section).model_copy(update=values)})


def by_stage(made: Explained) -> dict[str, tuple[int, int, tuple[str, ...]]]:
    return {s.stage: (s.first, s.anew, s.why) for s in made.stages}


def test_nothing_changed_is_nothing_to_look_at(home: Home) -> None:
    stamps = done(home, SETTINGS)
    made = explain(home, SETTINGS, stamps)
    assert (made.scans, made.stages, made.pairs_anew, made.settled) == (0, (), 0, False)  # never grouped yet


def test_a_new_scan_is_made_for_the_first_time(home: Home) -> None:
    stamps = done(home, SETTINGS)
    Written(home).consignment(received("B/new.tif"))
    made = explain(home, SETTINGS, stamps)
    assert (made.scans, made.kept) == (1, ())
    assert set(by_stage(made)) == set(stamps.stages)
    assert set(by_stage(made).values()) == {(1, 0, ())}
    assert made.space.needed == pytest.approx(SETTINGS.run.scan_mb)


def test_a_changed_threshold_remakes_what_hangs_on_it_and_is_named(home: Home) -> None:
    done(home, SETTINGS)
    before = SETTINGS.parse.margin_share
    other = changed("parse", margin_share=before + 0.01)
    made = explain(home, other, stamps_of(other))
    assert made.scans == 3
    assert set(by_stage(made)) == HANG_ON["parse"]
    assert by_stage(made)["parse"] == (0, 2, (f"config/parse.toml margin_share was {before}, is {before + 0.01}",))
    assert made.pairs_anew == 0
    assert set(made.kept) == set(BEFORE) - HANG_ON["parse"]


def test_what_follows_says_what_it_follows(home: Home) -> None:
    done(home, SETTINGS)
    other = changed("classify", look_px=SETTINGS.classify.look_px + 1)
    made = by_stage(explain(home, other, stamps_of(other)))
    assert {s: n[:2] for s, n in made.items()} == dict.fromkeys(HANG_ON["classify"], (0, 2))
    assert made["fingerprint"][2] == ("classify is made anew",)
    assert made["parse"][2] == ("read is made anew", "barcode is made anew")


def test_pairs_are_compared_anew_with_the_reason(home: Home) -> None:
    done(home, SETTINGS)
    field = next(n for n, v in SETTINGS.match.model_dump().items() if isinstance(v, float))
    other = changed("match", **{field: 0.123})
    made = explain(home, other, stamps_of(other))
    assert (made.scans, made.pairs_anew) == (0, 1)
    assert made.why_pairs[0].startswith(f"config/match.toml {field} was ")
    other = changed("fingerprint", **{next(iter(type(SETTINGS.fingerprint).model_fields)): 7})
    assert explain(home, other, stamps_of(other)).why_pairs == ("fingerprint is made anew",)


def test_another_reader_and_another_row_are_named(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    done(home, SETTINGS)
    less = SETTINGS.model_copy(update={"patterns": SETTINGS.patterns[1:]})
    (why,) = by_stage(explain(home, less, stamps_of(less)))["parse"][2]
    assert why == f"config/patterns.toml {SETTINGS.patterns[0].name} is gone"
    monkeypatch.setattr(stamping, "engine_versions", lambda: {"reader": "2.0"})
    made = by_stage(explain(home, SETTINGS, stamps_of(SETTINGS)))
    assert made["read"][2] == ('engine reader was "1.0", is "2.0"',)


def test_a_run_that_wrote_no_settings_down_is_said(home: Home) -> None:
    done(home, SETTINGS, settings=False)
    other = changed("parse", margin_share=0.5)
    assert "did not write down" in by_stage(explain(home, other, stamps_of(other)))["parse"][2][0]
