"""A home in one file, and back: a tar (POSIX.1-2001 pax) of database, derivatives, features, learnt, SHA256SUMS.

``tar -xf FILE && sha256sum -c SHA256SUMS`` checks it without Kinfold. Originals and the index are not in it: the first
are the owner's, the second is made again.
"""

import contextlib
import hashlib
import io
import os
import shutil
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from intake.errors import HomeError, UsageError
from intake.services.home import Home
from intake.store.keeping import snapshot

_DATABASE, _SUMS, _PLACES = "kinfold.db", "SHA256SUMS", ("derivatives", "features", "learnt")
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class Kept:
    """How much is in a backup."""

    files: int
    size_bytes: int


def backup(home: Home, to: Path) -> Kept:
    """Write the home into the new file ``to``, whole or not at all; a run may be at work meanwhile.

    Raises UsageError when ``to`` is there already or lies in the home, HomeError when something cannot be read or
    written.
    """
    if to.exists():
        raise UsageError(f"{to}: is there already. Name a new file.")
    if to.resolve().is_relative_to(home.folder.resolve()):
        raise UsageError(f"{to}: lies in the home itself. Name a file on another disk.")
    temporary = to.with_name(f".{to.name}.{os.getpid()}")
    try:
        with tempfile.TemporaryDirectory(dir=home.scratch) as folder:
            # First, so that every file that its rows name is there when the files are taken.
            database = Path(folder) / _DATABASE
            snapshot(home.database, database)
            kept = _write(home, database, temporary)
        temporary.replace(to)
    except OSError as error:
        raise HomeError(f"{to}: cannot be written ({error.strerror or error}). Nothing was left there.") from error
    finally:
        temporary.unlink(missing_ok=True)
    return kept


def restore(source: Path, folder: Path) -> Kept:
    """Make the home ``folder`` from a backup. It appears whole, every file compared with its digest, or not at all.

    Raises UsageError when the folder is there and not empty, or the file is no backup; HomeError when the disk refuses.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(
            f"{folder}: is there already. A backup is restored into a new or empty home: name it with --home."
        )
    folder.parent.mkdir(parents=True, exist_ok=True)
    place = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))  # mode 0700
    try:
        kept = _read(source, place)
        Home(place).database.close()  # brings older tables forward, or refuses newer ones
        if folder.exists():
            folder.rmdir()
        place.rename(folder)
    except (tarfile.TarError, EOFError, ValueError) as error:
        raise UsageError(f"{source}: is no whole backup of Kinfold ({error}). Nothing was restored.") from error
    except OSError as error:
        named = error.filename or folder
        raise HomeError(f"{named}: {error.strerror or error}. Nothing was restored.") from error
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return kept


def _write(home: Home, database: Path, to: Path) -> Kept:
    sums, size = [], 0
    with (
        open(os.open(to, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file,  # noqa: PTH123 - the mode
        tarfile.open(fileobj=file, mode="w", format=tarfile.PAX_FORMAT) as tar,
    ):
        for path, name in [(database, _DATABASE), *_members(home)]:
            with contextlib.suppress(FileNotFoundError):  # a file that no row named, gone since
                data = path.read_bytes() if path != database else None
                digest, length = _add(tar, path, name, data)
                sums.append(f"{digest}  {name}\n")
                size += length
        listed = "".join(sums).encode()
        tar.addfile(_entry(_SUMS, len(listed)), io.BytesIO(listed))
        file.flush()
        os.fsync(file.fileno())
    return Kept(len(sums), size)


def _add(tar: tarfile.TarFile, path: Path, name: str, data: bytes | None) -> tuple[str, int]:
    if data is not None:  # read at once: what is in the file is what was summed
        tar.addfile(_entry(name, len(data)), io.BytesIO(data))
        return hashlib.sha256(data).hexdigest(), len(data)
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        file.seek(0)
        length = path.stat().st_size
        tar.addfile(_entry(name, length), file)
    return digest, length


def _entry(name: str, size: int) -> tarfile.TarInfo:
    made = tarfile.TarInfo(name)
    made.size, made.mode = size, 0o600
    return made


def _members(home: Home) -> Iterator[tuple[Path, str]]:
    for name in _PLACES:
        for place, folders, files in os.walk(home.folder / name):
            folders.sort()
            for file in sorted(files):
                if not file.startswith("."):  # being written
                    path = Path(place) / file
                    yield path, path.relative_to(home.folder).as_posix()


def _read(source: Path, place: Path) -> Kept:
    """Unpack and compare. Raises ValueError for what is not in a backup of ours, or not as it was."""
    made: dict[str, str] = {}
    listed: dict[str, str] = {}
    size = 0
    with tarfile.open(source, mode="r:") as tar:
        for member in tar:
            data = tar.extractfile(member) if member.isreg() else None
            if data is None or not _is_ours(member.name):
                raise ValueError(f"it holds {member.name!r}")
            if member.name == _SUMS:
                lines = data.read().decode().splitlines()
                listed = {name: digest for digest, name in (line.split("  ", 1) for line in lines)}
            elif member.name in made:
                raise ValueError(f"it holds {member.name!r} twice")
            else:
                made[member.name] = _unpack(data, place / member.name)
                size += member.size
    if not listed:
        raise ValueError(f"{_SUMS} is missing: it was cut off")
    if wrong := sorted(n for n in made.keys() | listed.keys() if made.get(n) != listed.get(n)):
        raise ValueError(f"{wrong[0]} is not as it was")
    if _DATABASE not in made:
        raise ValueError(f"{_DATABASE} is missing")
    return Kept(len(made), size)


def _is_ours(name: str) -> bool:
    """A name below the home that cannot lead out of it."""
    path = PurePosixPath(name)
    is_below = path.parts[0] in _PLACES and len(path.parts) in (3, 4) and ".." not in path.parts
    return name == path.as_posix() and (name in (_DATABASE, _SUMS) or is_below)


def _unpack(data: IO[bytes], to: Path) -> str:
    for folder in reversed(to.parents):
        folder.mkdir(exist_ok=True, mode=0o700)
    made = hashlib.sha256()
    with open(os.open(to, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:  # noqa: PTH123 - the mode
        while block := data.read(_BLOCK):
            made.update(block)
            file.write(block)
        file.flush()
        os.fsync(file.fileno())
    return made.hexdigest()
