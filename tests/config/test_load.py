"""config/ is taken whole or refused whole, with every problem listed at once."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from pydantic import ValidationError

from intake.config.load import load_config
from intake.errors import ConfigError
from tests.made import CONFIG, ROOT


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    return shutil.copytree(CONFIG, tmp_path / "config")


def test_the_shipped_config_loads_and_is_the_same_each_time(copied: Path) -> None:
    assert load_config(CONFIG) == load_config(CONFIG) == load_config(copied)


def test_it_cannot_be_changed_once_read() -> None:
    config = load_config(CONFIG)
    with pytest.raises(ValidationError):
        config.run.workers = 9  # type: ignore[misc]


def test_all_problems_of_all_files_are_listed_at_once(copied: Path) -> None:
    (copied / "run.toml").write_text(
        (copied / "run.toml").read_text().replace("workers = 2", 'workers = "many"\nspeed = 9')
    )
    (copied / "queue.toml").write_text("this is no TOML")
    (copied / "kinds.toml").unlink()
    (copied / "check.toml").write_bytes(b"\xff\xfe\x00")
    receive = (copied / "receive.toml").read_text()
    (copied / "receive.toml").write_text(receive.replace('name = "B03-17r"', 'name = "seventeen"'))
    with pytest.raises(ConfigError) as caught:
        load_config(copied)
    said = str(caught.value)
    for words in (
        "run.toml: workers",
        "run.toml: speed",
        "queue.toml",
        "kinds.toml",
        "check.toml",
        "'seventeen' reads as",
    ):
        assert words in said, said
    assert caught.value.exit_code == 3


@pytest.mark.parametrize("name", sorted(p.name for p in CONFIG.iterdir() if p.name != "engines.toml"))
def test_a_file_that_is_missing_is_named(copied: Path, name: str) -> None:
    (copied / name).unlink()
    with pytest.raises(ConfigError, match=name):
        load_config(copied)


@pytest.mark.parametrize("name", sorted(p.name for p in CONFIG.iterdir() if p.name != "engines.toml"))
def test_a_file_of_rubbish_is_named_and_stops_nothing_else(copied: Path, name: str) -> None:
    (copied / name).write_bytes(b"\xff\x00 rubbish = = [[[")
    (copied / "group.toml").write_text("unknown = 1")
    with pytest.raises(ConfigError, match=name) as caught:
        load_config(copied)
    assert "group.toml" in str(caught.value)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=str(tmp_path / "none")):
        load_config(tmp_path / "none")


def test_loading_brings_in_nothing_heavy() -> None:
    code = (
        "import sys; from pathlib import Path; from intake.config.load import load_config; load_config(Path('config'));"
        "print(sorted({'cv2', 'numpy', 'prefect', 'sqlalchemy', 'onnxruntime', 'pyvips'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=dict(os.environ), capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
