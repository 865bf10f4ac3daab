"""The commands of handing over: what they write, what they say, and how they refuse."""

import hashlib
from pathlib import Path

import pytest

from intake.services.home import Home
from pipelines.command import main
from tests.services.handover.archive import archive


@pytest.fixture
def filled(home: Home, tmp_path: Path) -> list[str]:
    archive(home, tmp_path / "in")
    return ["--home", str(home.folder)]


def test_a_bag_goes_out_and_comes_in(filled: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*filled, "export", "bag", "--to", str(tmp_path / "bag"), "--consignment", "C"]) == 0
    assert main(["--home", str(tmp_path / "other"), "receive", str(tmp_path / "bag")]) == 0
    assert "each as it was bagged" in capsys.readouterr().out
    assert main([*filled, "receive", str(tmp_path / "bag")]) == 2
    assert "empty home" in capsys.readouterr().err
    assert main([*filled, "receive", str(tmp_path / "in/c")]) == 2
    assert "--consignment" in capsys.readouterr().err


def test_packages_by_name(filled: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, words in (("records", "records of"), ("iiif", "manifests"), ("copies", "copies"), ("drafts", "draft")):
        assert main([*filled, "export", name, "--to", str(tmp_path / name), "--consignment", "C"]) == 0
        assert words in capsys.readouterr().out and list((tmp_path / name).iterdir())
    assert main([*filled, "export", "scans", "--to", str(tmp_path / "s.csv"), "--consignment", "C"]) == 2
    assert "a table is of all" in capsys.readouterr().err
    assert main([*filled, "export", "records", "--to", str(tmp_path / "r"), "--consignment", "nobody"]) == 2


def test_text_of_papers_found_in_boxes_leaves_only_if_named(filled: list[str], tmp_path: Path) -> None:
    assert main([*filled, "export", "alto", "--to", str(tmp_path / "without")]) == 0
    assert main([*filled, "export", "alto", "--with-documents", "--to", str(tmp_path / "with")]) == 0
    without, whole = ({p.name for p in (tmp_path / n).iterdir()} for n in ("without", "with"))
    letter = hashlib.sha256((tmp_path / "in/c/B1/0003.tif").read_bytes()).hexdigest()
    assert whole - without == {f"{letter}.xml"}


def test_a_bag_with_mets(filled: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*filled, "export", "bag", "--mets", "--to", str(tmp_path / "bag")]) == 0
    assert "a bag of" in capsys.readouterr().out and (tmp_path / "bag/data/mets.xml").is_file()


def test_a_desk_that_would_tell_somebody_over_plain_http_does_not_open(
    filled: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KINFOLD_WEBHOOK", "http://desk.example/secret-path")
    assert main([*filled, "desk", "--api"]) == 2
    said = capsys.readouterr().err
    assert "give an https address" in said and "secret-path" not in said


def test_moves_and_withdrawal(filled: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    move = ["move", "--consignment", "C", "--box", "B1", "--piece", "0001", "--to", "shelf 7", "--who", "Ida"]
    assert main([*filled, *move]) == 0
    assert "from box B1 to shelf 7" in capsys.readouterr().out
    assert main([*filled, "withdraw", "--consignment", "C", "--who", "Ida", "--why", "the owner's letter"]) == 0
    assert "5 scans" in capsys.readouterr().out
    assert main([*filled, "export", "scans", "--to", str(tmp_path / "s.csv")]) == 0
    assert (tmp_path / "s.csv").read_text().count("\n") == 2  # the head, and the other owner's
