"""The home folder: database, derivatives, features, logs. Ours alone, made with mode 0700."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from intake.errors import BusyError, HomeError
from intake.model import PartKey
from intake.store import holds
from intake.store.database import Database, open_database

_ADDRESS = "database.address"  # there only where the database is not the file kinfold.db
# Derivatives, and the stage that makes each.
PICTURES = {"working": "render", "thumb": "render", "positive": "classify"}


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
        self.database: Database = open_database(_address(folder) or folder / "kinfold.db")

    @property
    def scratch(self) -> Path:
        """For temporary files of a run; emptied when a run starts."""
        return self.folder / "scratch"

    def log(self, run: int) -> Path:
        """The log of one run."""
        return self.folder / "logs" / f"run-{run:05d}.log"

    def report(self, run: int) -> Path:
        """What one run came to, as a page."""
        return self.folder / "logs" / f"run-{run:05d}.html"

    def picture(self, key: PartKey, name: str, stamp: str) -> Path:
        """Where a derivative of a part lies."""
        return picture_path(self.folder, key, name, stamp)

    def features(self, key: PartKey, stamp: str) -> Path:
        """Where the arrays of a part's fingerprint lie."""
        return features_path(self.folder, key, stamp)

    @contextmanager
    def held(self, box: tuple[str, str] | None = None) -> Iterator[None]:
        """Hold the home for one run, or one box (consignment, box) of a shared database; the hold ends with the
        process however it dies.

        Raises BusyError when another run has it.
        """
        if self.database.is_shared:
            with holds.held(self.database, box):
                yield
            return
        assert box is None, "boxes are held one by one in a shared database alone"
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

    def is_held(self) -> bool:
        """Is a run at work? The hold itself is not touched: a run may want it right now."""
        if self.database.is_shared:
            with self.database.read() as connection:
                return bool(holds.holders(connection))
        try:
            os.kill(int((self.folder / "run.lock").read_text()), 0)
        except PermissionError:
            return True
        except (OSError, ValueError):
            return False
        return True

    def move_to(self, address: str) -> None:
        """From now on this home's database is the one at ``address``; the file holds it, for our eyes alone."""
        write_whole(self.folder / _ADDRESS, address.encode())


def _address(folder: Path) -> str:
    try:
        return (folder / _ADDRESS).read_text().strip()
    except FileNotFoundError:
        return ""


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
        with open(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:  # noqa: PTH123
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
        _flush_folder(path.parent)
    finally:
        temporary.unlink(missing_ok=True)


def _flush_folder(folder: Path) -> None:
    """Without it a power cut may take the new name away again, after the ledger has said that the file is there."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def now() -> str:
    """The time as written in the ledger: ISO 8601, UTC, whole seconds."""
    return datetime.now(UTC).isoformat(timespec="seconds")
