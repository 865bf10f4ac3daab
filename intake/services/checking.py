"""Is the home whole? Every row has its file and every file its row; on request, every original is what was received."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from intake.model import PartKey
from intake.services.home import Home, features_path, picture_path
from intake.services.look import stored_path
from intake.services.receive import digest_of
from intake.store import keeping, scans

_STAGES = ("render", "classify", "fingerprint")
_PLACES = ("derivatives", "features")


@dataclass(frozen=True, slots=True)
class Checkup:
    """What was found.

    ``missing`` and ``damaged`` are files that rows name, ``touched`` the digests of the scans that they are of. No row
    names the ``loose`` ones: a run that was cut off had written them last; of no harm. ``originals`` is None where they
    were not asked for.
    """

    flaws: tuple[str, ...]
    rows: int
    files: int
    missing: tuple[str, ...]
    damaged: tuple[str, ...]
    loose: tuple[str, ...]
    touched: tuple[str, ...]
    originals: "Originals | None"

    @property
    def is_whole(self) -> bool:
        """Nothing missing, nothing altered."""
        theirs = self.originals
        return not (self.flaws or self.missing or self.damaged or (theirs and (theirs.missing or theirs.altered)))


@dataclass(frozen=True, slots=True)
class Originals:
    """The received files read once more. Names are consignment: path."""

    same: int
    missing: tuple[str, ...]
    altered: tuple[str, ...]


def check_home(home: Home, originals: bool = False, tell: Callable[[int], None] = lambda _n: None) -> Checkup:
    """Look at the database and at every file in the home; ``originals``: read every received file too.

    Nothing is written. ``tell`` is called with the number of originals read so far.
    """
    with home.database.read() as connection:
        flaws = keeping.flaws(connection)
        rows = list(expected(home, keeping.results_with_files(connection, _STAGES)))
    there = set(_files(home))
    named = {path for _, path in rows}
    missing, damaged, touched = [], [], set()
    for digest, path in rows:
        if path not in there:
            missing.append(_below(home, path))
        elif not _is_whole(path):
            damaged.append(_below(home, path))
        else:
            continue
        touched.add(digest)
    return Checkup(
        tuple(flaws),
        len(rows),
        len(there),
        tuple(missing),
        tuple(damaged),
        tuple(sorted(_below(home, p) for p in there - named)),
        tuple(sorted(touched)),
        _originals(home, tell) if originals else None,
    )


def mend(home: Home, found: Checkup) -> int:
    """Forget what was made of the scans whose files are missing or damaged, so that the next run makes it anew.

    Rulings stay, since they name parts by digest. Returns the number of scans. For the holder of the home alone.
    """
    with home.database.write() as connection:
        keeping.forget_results(connection, list(found.touched))
    return len(found.touched)


def expected(home: Home, results: list[tuple[PartKey, str, str, bool]]) -> Iterator[tuple[str, Path]]:
    """(digest, file) of every file that these results left in the home."""
    for key, stage, stamp, is_negative in results:
        if stage == "fingerprint":
            yield key.digest, features_path(home.folder, key, stamp)
        elif stage == "render":
            yield key.digest, picture_path(home.folder, key, "working", stamp)
            yield key.digest, picture_path(home.folder, key, "thumb", stamp)
        elif is_negative:
            yield key.digest, picture_path(home.folder, key, "positive", stamp)


def _files(home: Home) -> Iterator[Path]:
    for name in _PLACES:
        for place, _, files in os.walk(home.folder / name):
            yield from (Path(place) / file for file in files)


def _is_whole(path: Path) -> bool:
    """Does the file end as its kind does? (JPEG: ITU-T T.81, B.1.1.3: begins with SOI, ends with EOI.)"""
    data = path.read_bytes()
    if path.suffix == ".jpg":
        return data[:2] == b"\xff\xd8" and data[-2:] == b"\xff\xd9"
    from intake.imaging.features import Features

    try:
        Features.from_bytes(data)
    except ValueError:
        return False
    return True


def _below(home: Home, path: Path) -> str:
    return path.relative_to(home.folder).as_posix()


def _originals(home: Home, tell: Callable[[int], None]) -> Originals:
    with home.database.read() as connection:
        folders = {c.code: Path(c.folder) for c in scans.consignments(connection)}
        received = scans.all_scans(connection)
    missing, altered = [], []
    for number, scan in enumerate(received, start=1):
        name = f"{scan.consignment}: {scan.path}"
        try:
            if digest_of(stored_path(folders[scan.consignment], scan.path)) != scan.digest:
                altered.append(name)
        except OSError as error:
            missing.append(f"{name} ({error.strerror or error})")
        tell(number)
    return Originals(len(received) - len(missing) - len(altered), tuple(missing), tuple(altered))
