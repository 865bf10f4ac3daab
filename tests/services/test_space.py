"""Room on the disk is said before a run, and kept."""

from collections import namedtuple

import pytest

from intake.errors import HomeError
from intake.services import space
from intake.services.home import Home, features_path, write_whole
from intake.services.space import keep_reserve, space_for
from tests.made import SETTINGS, key

Usage = namedtuple("Usage", "total used free")
RULES = SETTINGS.run.model_copy(update={"scan_mb": 2.0, "reserve_mb": 100.0, "chunk_scans": 5})


@pytest.fixture(autouse=True)
def _a_disk_with_500_mb_free(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(space.shutil, "disk_usage", lambda _: Usage(10**9, 0, 500_000_000))


def test_before_anything_was_measured_config_tells(home: Home) -> None:
    made = space_for(home, 100, RULES)
    assert (made.each, made.is_measured, made.needed, made.free, made.is_enough) == (2.0, False, 200.0, 500.0, True)
    assert "2.00 MB a scan" in made.words


def test_what_scans_of_this_home_took_is_measured(home: Home) -> None:
    for n in range(60):
        write_whole(features_path(home.folder, key(str(n)), "s"), b"x" * 40_000)
        write_whole(home.folder / "derivatives" / "ab" / f"{n}.jpg", b"x" * 460_000)
    made = space_for(home, 100, RULES)
    assert (made.is_measured, made.each) == (True, pytest.approx(0.5))


def test_what_does_not_fit_is_said_with_how_much_is_lacking(home: Home) -> None:
    made = space_for(home, 250, RULES)
    assert not made.is_enough
    assert made.lacking == pytest.approx(100.0)
    assert "100 MB more are needed" in made.words


def test_a_run_stops_before_the_reserve(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    keep_reserve(home, 250, RULES, 2.0)
    monkeypatch.setattr(space.shutil, "disk_usage", lambda _: Usage(10**9, 0, 109_000_000))
    with pytest.raises(HomeError, match=r"250 scans are left, which take about 500 MB"):
        keep_reserve(home, 250, RULES, 2.0)
