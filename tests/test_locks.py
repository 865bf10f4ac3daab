"""The lock files hold all that pyproject.toml asks for, each file known by its hash, and no address of a registry."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
RUNTIME, TESTS = ROOT / "requirements.lock", ROOT / "tests/requirements.lock"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
WANTED = {
    RUNTIME: PROJECT["dependencies"],
    TESTS: PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"],
}


def read_lock(path: Path) -> dict[str, set[str]]:
    """Pinned versions by package name: more than one where they differ by Python or platform."""
    pinned: dict[str, set[str]] = {}
    for name, version in re.findall(r"^([\w.-]+)(?:\[[\w,]+\])?==([\w.+!]+)", path.read_text(), re.MULTILINE):
        pinned.setdefault(canonicalize_name(name), set()).add(version)
    return pinned


@pytest.mark.parametrize("lock", [RUNTIME, TESTS], ids=["runtime", "tests"])
def test_lock_answers_pyproject(lock: Path) -> None:
    pinned = read_lock(lock)
    for line in WANTED[lock]:
        wanted = Requirement(line)
        versions = pinned.get(canonicalize_name(wanted.name), set())
        assert versions, f"{wanted.name} is not locked"
        assert all(wanted.specifier.contains(version) for version in versions), f"{line}: locked at {versions}"


@pytest.mark.parametrize("lock", [RUNTIME, TESTS], ids=["runtime", "tests"])
def test_every_entry_has_hashes_and_nothing_has_an_address(lock: Path) -> None:
    text = lock.read_text()
    assert "//" not in text
    entries = re.split(r"^(?=\S)", text, flags=re.MULTILINE)
    bare = [entry for entry in entries if entry.strip() and "--hash=sha256:" not in entry]
    assert bare == []


def test_opencv_with_windows_is_left_out_and_tests_add_to_the_runtime_alone() -> None:
    runtime, tests = read_lock(RUNTIME), read_lock(TESTS)
    assert "opencv-python" not in tests
    assert {name: tests.get(name) for name in runtime} == runtime
