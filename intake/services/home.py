"""The home folder: database, derivatives, features, logs. Ours alone, made with mode 0700."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from intake.errors import BusyError, HomeError
from intake.model import PartKey
from intake.store.database import Database, open_database

PICTURES = ("working", "thumb", "positive")


class Home:
    """Where everything of one Kinfold lives. No path in it is ever built from a received name."""

    def __init__(self, folder: Path) -> None:
        """Open the folder and its database, making them when they are not there.

        Raises HomeError when the folder cannot be made or written.
        """
        self.folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            for name in ("derivatives", "features", "logs", "scratch"):
                (folder / name).mkdir(exist_ok=True, mode=0o700)
        except OSError as error:
            raise HomeError(
                f"{folder}: cannot be used as home ({error.strerror}). Name another with --home."
            ) from error
        self.database: Database = open_database(folder / "kinfold.db")

    @property
    def scratch(self) -> Path:
        """For temporary files of a run; emptied when a run starts."""
        return self.folder / "scratch"

    @property
    def log(self) -> Path:
        """The log of the runs."""
        return self.folder / "logs" / "run.log"

    def picture(self, key: PartKey, name: str, stamp: str) -> Path:
        """Where a derivative of a part lies."""
        return picture_path(self.folder, key, name, stamp)

    def features(self, key: PartKey, stamp: str) -> Path:
        """Where the arrays of a part's fingerprint lie."""
        return features_path(self.folder, key, stamp)

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the home for one run; the hold ends with the process however it dies.

        Raises BusyError when another run has it.
        """
        import fcntl

        with (self.folder / "run.lock").open("a+") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                lock.seek(0)
                raise BusyError(
                    f"{self.folder}: another run is at work here (process {lock.read().strip() or 'unknown'}). "
                    "Wait for it, or look on with: kinfold progress"
                ) from error
            lock.truncate(0)
            lock.write(str(os.getpid()))
            lock.flush()
            yield


def picture_path(home: Path, key: PartKey, name: str, stamp: str) -> Path:
    """Where a derivative lies. ``name`` is one of PICTURES; ``stamp`` that of the stage which made it."""
    assert name in PICTURES
    return home / "derivatives" / key.digest[:2] / f"{key.digest}-{key.part}-{name}-{stamp}.jpg"


def features_path(home: Path, key: PartKey, stamp: str) -> Path:
    """Where the arrays of a fingerprint lie."""
    return home / "features" / stamp / key.digest[:2] / f"{key.digest}-{key.part}.kff"


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that a crash at any moment leaves the old or the new one: temporary name, fsync, rename."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    temporary = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with temporary.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


def now() -> str:
    """The time as written in the ledger: ISO 8601, UTC, whole seconds."""
    return datetime.now(UTC).isoformat(timespec="seconds")
