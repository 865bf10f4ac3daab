"""The launcher, run in small copies of the checkout: no network, an empty HOME, a PATH of only what it may use."""

import hashlib
import importlib.util
import json
import os
import re
import shutil
import signal
import statistics
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

import intake

ROOT = Path(__file__).resolve().parent.parent
PYTHON = Path(sys.executable).resolve()
UTILITIES = ("cmp", "cp", "mkdir", "mv", "readlink", "rm", "tail")
INSTALLERS = [
    *(["pip"] if importlib.util.find_spec("ensurepip") else []),
    *(["uv"] if shutil.which("uv") else []),
]

# What the copy's `pipelines.command` does: tells how it was called, and which intake it got.
COMMAND = """
import json, os, sys
import intake
from importlib.metadata import version
told = {"arguments": sys.argv[1:], "intake": intake.__file__, "installed": version("intake"), "here": os.getcwd()}
print(json.dumps(told))
"""


@dataclass
class Checkout:
    """A copy of what the launcher touches, in a folder with spaces in its name, and a machine of its own around it."""

    folder: Path
    machine: Path

    @property
    def environment(self) -> dict[str, str]:
        wheels = str(self.machine / "wheels")
        return {
            "HOME": str(self.machine / "home"),
            "PATH": str(self.machine / "bin"),
            "PYTHONPATH": str(self.machine / "decoy"),
            "PIP_NO_INDEX": "1",
            "PIP_FIND_LINKS": wheels,
            "UV_OFFLINE": "1",
            "UV_FIND_LINKS": wheels,
        }

    def start(self, *arguments: str, launcher: Path | None = None, here: Path | None = None) -> "subprocess.Popen[str]":
        return subprocess.Popen(
            [launcher or self.folder / "kinfold", *arguments],
            cwd=here or self.machine,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )

    def run(self, *arguments: str, launcher: Path | None = None, here: Path | None = None) -> tuple[int, str, str]:
        with self.start(*arguments, launcher=launcher, here=here) as process:
            out, err = process.communicate(timeout=60)
        return process.returncode, out, err

    def require(self, version: str, lock: str = "requirements.lock") -> None:
        """Make the lock ask for this version of the unrelated package that is called intake as well."""
        wheel = self.machine / "wheels" / f"intake-{version}-py3-none-any.whl"
        with zipfile.ZipFile(wheel, "w") as archive:
            about = f"intake-{version}.dist-info"
            archive.writestr("intake/__init__.py", "raise ImportError('the unrelated intake')\n")
            archive.writestr(f"{about}/METADATA", f"Metadata-Version: 2.1\nName: intake\nVersion: {version}\n")
            archive.writestr(f"{about}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
            archive.writestr(f"{about}/RECORD", "".join(f"{name},,\n" for name in archive.namelist()))
        digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
        (self.folder / lock).write_text(f"intake=={version} --hash=sha256:{digest}\n")

    def provide(self, program: str, text: str) -> None:
        """Put a program of our own on the copy's PATH."""
        path = self.machine / "bin" / program
        path.unlink(missing_ok=True)
        path.write_text(text)
        path.chmod(0o755)


@pytest.fixture
def make_checkout(tmp_path: Path) -> Callable[[str], Checkout]:
    def make(installer: str) -> Checkout:
        checkout = Checkout(tmp_path / "a folder" / "kin fold's", tmp_path / "machine")
        for name in ("bin", "home", "wheels", "decoy/intake"):
            (checkout.machine / name).mkdir(parents=True)
        for name in ("intake", "pipelines", "tests"):
            (checkout.folder / name).mkdir(parents=True)
        shutil.copy(ROOT / "kinfold", checkout.folder)
        (checkout.folder / "intake/__init__.py").touch()
        (checkout.folder / "pipelines/command.py").write_text(COMMAND)
        (checkout.folder / "tests/run.py").write_text(COMMAND)
        (checkout.machine / "decoy/intake/__init__.py").write_text("raise ImportError('an intake on the way')\n")
        for utility in UTILITIES:
            (checkout.machine / "bin" / utility).symlink_to(shutil.which(utility) or utility)
        (checkout.machine / "bin/python3").symlink_to(PYTHON)
        if installer == "uv":
            checkout.provide("uv", f"#!/bin/sh\nPATH='{os.environ['PATH']}' exec '{shutil.which('uv')}' \"$@\"\n")
        checkout.require("1.0")
        return checkout

    return make


@pytest.fixture
def checkout(make_checkout: Callable[[str], Checkout]) -> Checkout:
    return make_checkout(INSTALLERS[-1])


def test_intake_is_ours() -> None:
    assert Path(intake.__file__ or "").is_relative_to(ROOT)


@pytest.mark.parametrize("installer", INSTALLERS)
def test_first_use_sets_up_and_hands_over(make_checkout: Callable[[str], Checkout], installer: str) -> None:
    checkout = make_checkout(installer)
    link = checkout.machine / "a link"
    link.symlink_to(Path("..") / checkout.folder.relative_to(checkout.machine.parent) / "kinfold")
    decoy = checkout.machine / "decoy"

    code, out, err = checkout.run("find", "a b.tif", "--top", "3", launcher=link, here=decoy)

    assert code == 0, err
    assert json.loads(out) == {
        "arguments": ["find", "a b.tif", "--top", "3"],
        "intake": str(checkout.folder / "intake/__init__.py"),
        "installed": "1.0",
        "here": str(decoy),
    }
    assert str(checkout.folder / ".venv") in err
    assert f"written to {checkout.folder / '.cache/setup.log'}" in err
    assert list((checkout.machine / "home").iterdir()) == []

    code, out, err = checkout.run(launcher=link, here=decoy)
    assert (code, err) == (0, "")
    assert json.loads(out)["arguments"] == []


def test_later_use_adds_little_time(checkout: Checkout) -> None:
    checkout.run()
    python = checkout.folder / ".venv/bin/python"

    def seconds(command: list[str | Path]) -> float:
        started = time.perf_counter()
        subprocess.run(command, env=checkout.environment, check=True, capture_output=True, cwd=checkout.folder)
        return time.perf_counter() - started

    pairs = [(seconds([checkout.folder / "kinfold"]), seconds([python, "-m", "pipelines.command"])) for _ in range(5)]
    assert statistics.median(launched - bare for launched, bare in pairs) < 0.3


def test_changed_lock_is_installed(checkout: Checkout) -> None:
    checkout.run()
    checkout.require("2.0")
    code, out, err = checkout.run()
    assert code == 0, err
    assert json.loads(out)["installed"] == "2.0"
    assert "setting up" in err


def test_tests_install_their_own_lock_and_get_the_arguments(checkout: Checkout) -> None:
    checkout.require("2.0", lock="tests/requirements.lock")
    code, out, err = checkout.run("test", "-k", "a b")
    assert code == 0, err
    told = json.loads(out)
    assert (told["arguments"], told["installed"]) == (["-k", "a b"], "2.0")
    assert checkout.run("test")[2] == ""


def test_killed_set_up_is_done_again(checkout: Checkout) -> None:
    good = shutil.copy(checkout.machine / "bin/uv", checkout.machine) if INSTALLERS[-1] == "uv" else None
    site = checkout.folder / ".venv/half-installed"
    checkout.provide(
        "uv",
        f"""#!/bin/sh
case $1 in
    venv) "$4" -m venv --without-pip "$5" ;;
    pip) : >"{site}"; exec "{shutil.which("sleep")}" 60 ;;
esac
""",
    )
    process = checkout.start()
    deadline = time.monotonic() + 20
    while not site.exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGKILL)
    process.communicate()
    assert site.exists()
    assert (checkout.folder / ".venv/bin/python").exists()

    (checkout.machine / "bin/uv").unlink()
    if good:
        shutil.move(good, checkout.machine / "bin/uv")
    code, out, err = checkout.run()
    assert code == 0, err
    assert json.loads(out)["installed"] == "1.0"
    assert not site.exists()


def test_two_first_uses_at_once(checkout: Checkout) -> None:
    processes = [checkout.start(str(number)) for number in range(3)]
    said = [process.communicate(timeout=60) for process in processes]
    assert [process.returncode for process in processes] == [0, 0, 0], said
    assert [json.loads(out)["arguments"] for out, _ in said] == [["0"], ["1"], ["2"]]
    assert sum("setting up Kinfold" in err for _, err in said) == 1


def test_wrong_hash_is_refused(checkout: Checkout) -> None:
    lock = checkout.folder / "requirements.lock"
    text = lock.read_text()
    lock.write_text(text[:-5] + ("0000\n" if text[-5:] != "0000\n" else "1111\n"))
    code, out, err = checkout.run()
    assert (code, out) == (4, "")
    assert re.search("hash.*match|match.*hash", err, re.IGNORECASE)
    assert str(checkout.folder / ".cache/setup.log") in err


def test_no_python_names_the_command(checkout: Checkout) -> None:
    # A Python that is too old answers like the launcher's own question does: without a word and with an error.
    checkout.provide("python3", "#!/bin/sh\nexit 1\n")
    code, out, err = checkout.run()
    assert (code, out) == (4, "")
    assert "sudo apt-get install python3 python3-venv" in err
    assert "brew install python@3.13" in err
    assert not (checkout.folder / ".venv").exists()


def test_folder_name_with_a_colon_is_refused(checkout: Checkout) -> None:
    moved = checkout.folder.rename(checkout.folder.with_name("kin:fold"))
    code, _, err = checkout.run(launcher=moved / "kinfold")
    assert code == 4
    assert "':'" in err


def test_moved_checkout_still_works(checkout: Checkout) -> None:
    checkout.run()
    moved = checkout.folder.rename(checkout.folder.with_name("moved"))
    code, out, err = checkout.run(launcher=moved / "kinfold")
    assert (code, err) == (0, "")
    assert json.loads(out)["intake"] == str(moved / "intake/__init__.py")
