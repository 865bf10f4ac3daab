"""Files written as they are made, under a temporary name, and renamed when whole."""

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from intake.errors import HomeError


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """A file to be written; under its name only when all of it is there and on the disk.

    Raises HomeError when it cannot be written: nothing is left under the final name then, nor where the process dies.
    """
    temporary = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        try:
            with temporary.open("wb") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise HomeError(f"{path}: cannot be written ({error.strerror}).") from error


def write_text(path: Path, pieces: Iterable[str]) -> None:
    """Write text as it comes, as UTF-8."""
    with whole_file(path) as file:
        for piece in pieces:
            file.write(piece.encode())
