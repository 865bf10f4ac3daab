"""What check-setup says, on this machine and on machines that lack things."""

import hashlib
import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

from intake import setup
from intake.errors import ConfigError

CONFIG = Path(__file__).resolve().parent.parent / "config"


@pytest.fixture
def bare_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """As where the wheels of tesseract and of the models are not installed. Returns the only folder on PATH, empty."""
    monkeypatch.setattr(importlib.util, "find_spec", lambda _name: None)
    monkeypatch.setenv("PATH", str(tmp_path))
    return tmp_path


def provide_tesseract(folder: Path, data: bytes | None) -> None:
    """A program that answers as tesseract 5 does, with language data beside it."""
    (folder / "its data").mkdir()
    if data is not None:
        (folder / "its data/eng.traineddata").write_bytes(data)
    program = folder / "tesseract"
    program.write_text(f"""#!/bin/sh
case $1 in
    --version) echo "tesseract 5.3.0"; echo " leptonica-1.82.0" ;;
    --list-langs) echo 'List of available languages in "{folder}/its data/" (1):'; echo eng ;;
esac
""")
    program.chmod(0o755)


def test_all_is_found_here_and_models_have_the_stated_digests() -> None:
    missing = [item for item in setup.inspect_setup() if not item.found]
    assert missing == []


def test_models_agree_with_the_digests_in_their_own_wheel() -> None:
    # Outside check: default_models.yaml inside the rapidocr wheel lists the digests of the models it was released with.
    models, _ = setup.load_engines()
    for model in models:
        path = setup.find_model(model)
        assert path is not None
        released = (path.parent.parent / "default_models.yaml").read_text(encoding="utf-8")
        assert model.sha256 in released
        assert hashlib.sha256(path.read_bytes()).hexdigest() == model.sha256


def test_found_tesseract_runs_with_its_data_folder() -> None:
    tesseract = setup.find_tesseract()
    assert tesseract is not None
    done = subprocess.run(
        [tesseract.program, "--list-langs"],
        env={"TESSDATA_PREFIX": str(tesseract.data_folder)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "eng" in done.stdout.split()
    assert tesseract.version[0].isdigit()


def test_tesseract_on_path_is_taken_where_the_wheel_is_missing(bare_machine: Path) -> None:
    provide_tesseract(bare_machine, b"data of some other set")
    items = {item.name: item for item in setup.inspect_setup()}
    assert items["tesseract"].version == "5.3.0"
    assert items["tesseract"].path == str(bare_machine / "tesseract")
    data = items["tesseract's English data"]
    assert data.found
    assert data.version == f"unknown set, {hashlib.sha256(b'data of some other set').hexdigest()[:12]}"


@pytest.mark.usefixtures("bare_machine")
def test_missing_things_are_named_with_a_command() -> None:
    missing = {item.name: item.how_to_get for item in setup.inspect_setup() if not item.found}
    models, _ = setup.load_engines()
    assert set(missing) == {"tesseract", "tesseract's English data", *(model.name for model in models)}
    assert "tesseract" in missing["tesseract"]
    assert all(missing.values())
    assert setup.engine_versions()["tesseract"] == "missing"


def test_missing_language_data_is_told_from_a_missing_program(bare_machine: Path) -> None:
    provide_tesseract(bare_machine, None)
    items = {item.name: item for item in setup.inspect_setup()}
    assert items["tesseract"].found
    assert not items["tesseract's English data"].found


def test_altered_model_is_not_found(tmp_path: Path) -> None:
    text = (CONFIG / "engines.toml").read_text()
    models, _ = setup.load_engines()
    (tmp_path / "engines.toml").write_text(text.replace(models[0].sha256, "0" * 64))
    items = {item.name: item for item in setup.inspect_setup(tmp_path)}
    assert not items[models[0].name].found
    assert "expected 000000000000" in items[models[0].name].version
    assert items[models[1].name].found


@pytest.mark.parametrize("text", ["[[models]]\nname = 'x'\n", "models = ", "[[language_data]]\n"])
def test_bad_engines_file_is_a_config_error(tmp_path: Path, text: str) -> None:
    (tmp_path / "engines.toml").write_text(text)
    with pytest.raises(ConfigError, match=r"engines\.toml"):
        setup.load_engines(tmp_path)


def test_versions_for_the_record_are_all_there() -> None:
    versions = setup.engine_versions()
    assert "missing" not in versions.values()
    assert {"tesseract", "tesseract's English data", "libvips", "onnxruntime", "rapidocr"} <= set(versions)


def test_import_is_light() -> None:
    heavy = "{'numpy', 'cv2', 'pyvips', 'onnxruntime', 'rapidocr', 'prefect', 'sqlalchemy'}"
    code = f"import sys, intake.setup; print({heavy} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], cwd=CONFIG.parent, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
