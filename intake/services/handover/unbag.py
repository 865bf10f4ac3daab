"""`kinfold receive BAG`: read a bag that this tool wrote, prove every file of it, and put it into an empty home.

A bag is a folder from outside: nothing in it is trusted. Its paths are refused where they climb, links are not
followed, every digest is taken anew before anything counts, and what reaches the ledger is checked column by column.
"""

import json
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from intake.errors import HomeError, UsageError
from intake.services.handover.bag import original_name
from intake.services.handover.bagit_form import ALGORITHMS, DECLARATION, is_safe, read_manifest, read_tag_file
from intake.services.handover.copying import Copier
from intake.services.handover.sound import file_name
from intake.services.home import PICTURES, Home
from intake.store import carry

_OURS = re.compile(
    rf"(derivatives/[0-9a-f]{{2}}/[0-9a-f]{{64}}-\d{{1,6}}-({'|'.join(PICTURES)})-[0-9a-z-]{{1,40}}\.jpg"
    r"|features/[0-9a-z-]{1,40}/[0-9a-f]{2}/[0-9a-f]{64}-\d{1,6}\.kff)"
)
_LONGEST_ROW = 64_000_000
_SHOWN = 10


@dataclass(frozen=True, slots=True)
class Unbagged:
    """What one bag brought: files proved, and rows taken on record."""

    files: int
    rows: int


def is_bag(folder: Path) -> bool:
    """Does the folder say that it is a bag?"""
    return (folder / "bagit.txt").is_file()


def read_bag(folder: Path) -> dict[str, dict[str, str]]:
    """Algorithm -> (path -> digest) of a bag's payload, with every tag file proved and every file accounted for.

    Payload files are not read. Raises UsageError with what is wrong.
    """
    if read_tag_file(folder / "bagit.txt") != DECLARATION:
        raise UsageError(f"{folder}: is no bag of version 1.0 in UTF-8.")
    made = {a: read_manifest(folder / f"manifest-{a}.txt", a, True) for a in ALGORITHMS}
    with Copier() as copier:
        for a in ALGORITHMS:
            for name, digest in read_manifest(folder / f"tagmanifest-{a}.txt", a, False).items():
                try:
                    found = copier.copy(folder / name, None)
                except OSError as error:
                    raise UsageError(f"{folder / name}: is named in the bag and cannot be read.") from error
                if getattr(found, a) != digest:
                    raise UsageError(f"{folder / name}: is not the file that was bagged (its {a} differs).")
    if (folder / "data").is_symlink():
        raise UsageError(f"{folder}: its data folder is a link.")
    here = set(_files(folder))
    _refuse(folder, "links, which are not followed", {name for name in here if (folder / name).is_symlink()})
    for a, named in made.items():
        _refuse(folder, f"named in manifest-{a}.txt and not there", set(named) - here)
        _refuse(folder, f"there and not named in manifest-{a}.txt", here - set(named))
    return made


def receive_bag(home: Home, folder: Path) -> Unbagged:
    """Prove a bag, file by file, and take it into ``home``, which must be empty.

    Raises UsageError when the home is not empty or the bag is not sound; then nothing is taken. HomeError when the home
    cannot be written.
    """
    with home.database.read() as connection:
        if not carry.is_empty(connection):
            raise UsageError(
                f"{home.folder}: holds something already. A bag is received into an empty home: --home NEW."
            )
    named = read_bag(folder)
    at = home.folder / "received"
    if at.exists():
        raise UsageError(f"{at}: is there already. A bag is received into an empty home: --home NEW.")
    temporary = home.folder / f".received.{os.getpid()}"
    try:
        try:
            places = _places(folder, named)
            _take(home, folder, named, places, temporary)
            rows = _rows(home, folder, at)
            if temporary.exists():
                temporary.rename(at)
        except BaseException:
            _empty(home)
            raise
        finally:
            shutil.rmtree(temporary, ignore_errors=True)
    except OSError as error:
        raise HomeError(f"{home.folder}: cannot be written ({error.strerror}).") from error
    return Unbagged(len(named["sha256"]), rows)


def _places(folder: Path, named: dict[str, dict[str, str]]) -> dict[str, list[PurePosixPath]]:
    """Path in the bag of each original -> where it lies among the received files, as its scans name it."""
    made: dict[str, list[PurePosixPath]] = {}
    for row in _read_rows(folder, "scan"):
        code, path, digest = (str(row.get(c, "")) for c in ("consignment", "path", "digest"))
        original = original_name(digest, path)
        if original not in named["sha256"]:
            original = next((p for p in named["sha256"] if p.startswith(f"data/originals/{digest}")), "")
        if not is_safe(path.replace("\\", "_")) or not original or named["sha256"][original] != digest:
            raise UsageError(
                f"{folder}: its ledger names a scan that is not in it, or a path that is refused: {path[:80]!r}"
            )
        made.setdefault(original, []).append(PurePosixPath(file_name(code), path))
    return made


def _take(
    home: Home, folder: Path, named: dict[str, dict[str, str]], places: dict[str, list[PurePosixPath]], to: Path
) -> None:
    with Copier() as copier:
        for path, digest in named["sha256"].items():
            below = path.removeprefix("data/")
            at: list[Path | None] = [to / place for place in places.get(path, ())]
            first, *others = at or [None]
            target = first or (home.folder / below if _OURS.fullmatch(below) else None)
            try:
                found = copier.copy(folder / path, target)
            except FileExistsError as error:
                raise UsageError(f"{target}: is there already. A bag is received into an empty home.") from error
            if (found.sha256, found.sha512) != (digest, named["sha512"][path]):
                raise UsageError(f"{folder / path}: is not the file that was bagged (its digests differ).")
            for other in others:
                if first and other:
                    other.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
                    os.link(first, other)


def _rows(home: Home, folder: Path, received: Path) -> int:
    count = 0
    with home.database.write() as connection:
        for name in carry.ORDER:
            rows = _read_rows(folder, name)
            if name == "consignment":
                rows = ({**r, "folder": str((received / file_name(str(r["code"]))).resolve())} for r in rows)
            try:
                count += carry.put_in(connection, name, rows)
            except (ValueError, KeyError) as error:
                raise UsageError(f"{folder}: its ledger does not fit ({error}).") from error
    return count


def _read_rows(folder: Path, name: str) -> Iterator[dict[str, Any]]:
    path = folder / "data/ledger" / f"{name}.jsonl"
    try:
        with path.open("rb") as file:
            while line := file.readline(_LONGEST_ROW):
                row = json.loads(line)
                if not line.endswith(b"\n") or not isinstance(row, dict):
                    raise ValueError("a row that is no row")
                yield row
    except (OSError, ValueError) as error:
        raise UsageError(f"{path}: cannot be read ({error}). Only bags of this tool can be received.") from error


def _files(folder: Path) -> Iterator[str]:
    for at, folders, files in os.walk(folder / "data"):
        for name in (*files, *(f for f in folders if Path(at, f).is_symlink())):
            yield Path(at, name).relative_to(folder).as_posix()


def _refuse(folder: Path, what: str, paths: set[str]) -> None:
    if paths:
        shown = ", ".join(repr(p[:80]) for p in sorted(paths)[:_SHOWN])
        raise UsageError(f"{folder}: {len(paths)} files are {what}: {shown}.")


def _empty(home: Home) -> None:
    """Take away what a refused bag has left in a home that was empty."""
    for name in ("derivatives", "features"):
        shutil.rmtree(home.folder / name, ignore_errors=True)
        (home.folder / name).mkdir(exist_ok=True, mode=0o700)
