"""The estimate is honest: a range that holds what chance does, and no figure from too few scans."""

import random
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from intake.services.home import Home
from intake.services.progress import pace_of, progress

BEGIN = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)
END = BEGIN + timedelta(minutes=15)


def finished(n: int, seed: int = 0) -> list[datetime]:
    chance = random.Random(seed)
    return sorted(BEGIN + (END - BEGIN) * chance.random() for _ in range(n))


@pytest.mark.parametrize("n", [0, 1, 19])
def test_too_few_scans_are_no_measure(n: int) -> None:
    pace = pace_of(finished(n), BEGIN, END, 500)
    assert (pace.scans_measured, pace.scans_per_minute, pace.low_minutes, pace.high_minutes) == (n, None, None, None)


def test_the_range_holds_the_mean_and_is_never_narrower_than_chance() -> None:
    # A Poisson count has the variance of its mean; two standard deviations each way (common practice).
    for seed in range(50):
        pace = pace_of(finished(150, seed), BEGIN, END, 1000)
        assert pace.scans_per_minute == pytest.approx(10)
        assert pace.low_minutes is not None and pace.high_minutes is not None
        assert pace.low_minutes <= 1000 / ((150 + 2 * 150**0.5) / 15) + 1e-9
        assert pace.high_minutes >= 1000 / ((150 - 2 * 150**0.5) / 15) - 1e-9


def test_a_standstill_has_no_upper_end() -> None:
    early = [BEGIN + timedelta(seconds=n) for n in range(60)]
    pace = pace_of(early, BEGIN, END, 1000)
    assert pace.low_minutes is not None and pace.high_minutes is None


def test_an_empty_home_says_what_to_type(home: Home) -> None:
    now = progress(home)
    assert now.boxes == () and now.run is None and "kinfold receive" in now.words


def test_progress_imports_nothing_heavy() -> None:
    heavy = ("cv2", "onnxruntime", "prefect", "pyvips", "starlette")
    code = f"import sys, intake.services.progress; print([m for m in {heavy!r} if m in sys.modules])"
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
