"""What is away for a while is waited for; what stays away is given up, once."""

import threading
from pathlib import Path

import pytest

from intake.errors import HomeError
from pipelines import patience
from pipelines.patience import Sources, patiently


@pytest.fixture(autouse=True)
def _short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patience, "_FIRST_PAUSE_S", 0.01)


def test_a_transaction_is_done_again_until_the_database_is_back() -> None:
    tried: list[int] = []

    def act() -> str:
        tried.append(1)
        if len(tried) < 4:
            raise HomeError("locked")
        return "written"

    assert patiently(act, 30.0, threading.Event()) == "written"
    assert len(tried) == 4


def test_patience_has_an_end_and_a_stop_ends_it_at_once() -> None:
    def refuse() -> None:
        raise HomeError("locked")

    with pytest.raises(HomeError, match="locked"):
        patiently(refuse, 0.05, threading.Event())
    stop = threading.Event()
    stop.set()
    with pytest.raises(HomeError, match="locked"):
        patiently(refuse, 600.0, stop)


def test_another_error_is_not_waited_out() -> None:
    tried: list[int] = []

    def broken() -> None:
        tried.append(1)
        raise KeyError("ours")

    with pytest.raises(KeyError):
        patiently(broken, 30.0, threading.Event())
    assert len(tried) == 1


def test_a_folder_that_comes_back_and_one_that_does_not(tmp_path: Path) -> None:
    said: list[str] = []
    there, empty, gone = tmp_path / "there", tmp_path / "empty", tmp_path / "gone"
    there.mkdir()
    (there / "B1").mkdir()
    empty.mkdir()
    sources = Sources(30.0, threading.Event(), said.append)
    sources.wait_for(str(there))
    assert said == []
    helper = threading.Timer(0.1, (empty / "B1").mkdir)
    helper.start()
    sources.wait_for(str(empty))
    assert [s.rpartition(":")[2].strip() for s in said][-1] == "is back"
    impatient = Sources(0.05, threading.Event(), said.append)
    for _ in range(3):
        impatient.wait_for(str(gone))
    assert sum("is still away" in s for s in said) == 1
