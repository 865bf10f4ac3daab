"""What ``kinfold test`` does once the Python packages are there: get the outside tools, then check everything.

    kinfold test                      all checks: ruff, mypy, the import contracts, pytest
    kinfold test tests/store -k draw  pytest alone, with these arguments

Exits 0 when every check passed, 1 otherwise.
"""

import os
import subprocess
import sys
import sysconfig
from pathlib import Path

from tests.tools import TOOLS, Tool

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = Path(sysconfig.get_path("scripts"))
LOG = ROOT / ".cache" / "setup-tools.log"

CHECKS = {
    "ruff check": ("-m", "ruff", "check", "."),
    "ruff format": ("-m", "ruff", "format", "--check", "."),
    "mypy": ("-m", "mypy"),
    "lint-imports": (str(SCRIPTS / "lint-imports"),),  # it has no -m form
    "pytest": ("-m", "pytest"),
}


def say(message: str) -> None:
    """One line of our own among the tools' output."""
    print(f"kinfold test: {message}", flush=True)


def main(arguments: list[str]) -> int:
    """Run the checks that the arguments ask for; return the exit code."""
    if arguments in (["--help"], ["-h"]):
        print(__doc__)
        return 0
    missing = [tool for tool in TOOLS if tool.find() is None]
    if missing:
        get_tools(missing)
    checks = {"pytest": (*CHECKS["pytest"], *arguments)} if arguments else CHECKS
    failed = [name for name, check in checks.items() if not passes(name, check)]
    say(f"failed: {', '.join(failed)}" if failed else "all passed")
    return 1 if failed else 0


def passes(name: str, check: tuple[str, ...]) -> bool:
    """Run one check in the checkout, its output shown as it comes."""
    say(name)
    return subprocess.run([sys.executable, *check], cwd=ROOT, check=False).returncode == 0


def get_tools(missing: list[Tool]) -> None:
    """Install on Debian when we may, saying so first; otherwise name the commands. Tests skip what stays missing."""
    if os.geteuid() == 0 and Path("/etc/debian_version").exists():
        install_debian_packages([tool.debian_package for tool in missing])
    for tool in missing:
        if tool.find() is None:
            say(f"{tool.name} is missing: the tests that need it are skipped. To get it, type: {tool.how_to_get()}")


def install_debian_packages(packages: list[str]) -> None:
    """Install them for the whole system. A failure is told, not raised."""
    install = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    say(f"installing for the whole system, with: apt-get update && {' '.join(install)}")
    say(f"what it does is written to {LOG}")
    LOG.parent.mkdir(exist_ok=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    with LOG.open("w") as log:
        for command in (["apt-get", "update"], install):
            # An update may fail for a source that we do not need; the install then tells.
            done = subprocess.run(
                [*command, "-o", "DPkg::Lock::Timeout=300"],
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                check=False,
            )
    if done.returncode:
        say(f"apt-get failed (exit code {done.returncode}):")
        print(*LOG.read_text(errors="replace").splitlines()[-8:], sep="\n", flush=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
