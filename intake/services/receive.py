"""Take in a folder: read-only to us, first-level folders are boxes, every file known by its digest."""

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from intake.config.receive import ReceiveRules
from intake.errors import UsageError
from intake.model import Finding, Received
from intake.services.boxlist import read_box_list
from intake.services.home import Home, now
from intake.store import scans

_READ_BYTES = 1 << 20
_LONGEST_CODE = 120


@dataclass(frozen=True, slots=True)
class Receipt:
    """What one receipt did."""

    consignment: str
    files: int
    added: int
    unchanged: int
    findings: tuple[tuple[str, Finding], ...]
    boxes: tuple[str, ...]


def receive(
    home: Home,
    folder: Path,
    consignment: str,
    rules: ReceiveRules,
    box_list: Path | None = None,
    tell: Callable[[int], None] = lambda _n: None,
) -> Receipt:
    """Note every scan below ``folder`` with its digest; only what is new is added, nothing is ever overwritten.

    ``tell`` is called with the number of files read so far. Raises UsageError when the folder or the list cannot be
    read, or the code is empty, too long or holds control characters.
    """
    if not consignment.strip() or len(consignment) > _LONGEST_CODE or not consignment.isprintable():
        raise UsageError(f"--consignment {consignment!r}: give a code of 1 to {_LONGEST_CODE} printable characters.")
    if not folder.is_dir():
        raise UsageError(f"{folder}: not a folder. Name the folder that holds the boxes.")
    lines = read_box_list(box_list) if box_list else None
    with home.database.read() as connection:
        known = scans.known_files(connection, consignment)

    added: list[tuple[Received, int]] = []
    found: list[tuple[str, Finding]] = []
    seen = 0
    for path, trouble in _files(folder, rules):
        shown = _shown(path)
        if trouble is not None:
            found.append((shown, trouble))
            continue
        full = folder / path
        try:
            digest, size, modified = _digest(full)
        except OSError as error:
            found.append((shown, Finding("receive", "unreadable", "failure", f"cannot be read: {error.strerror}.")))
            continue
        seen += 1
        tell(seen)
        before = known.get(shown)
        if before is None:
            added.append((_received(consignment, path, shown, digest, size, rules), modified))
        elif before.digest != digest:
            found.append(
                (
                    shown,
                    Finding(
                        "receive",
                        "changed_file",
                        "attention",
                        f"is not the file that was received under this name (was {before.digest[:12]}, is now "
                        f"{digest[:12]}). The first stays on record; send the new one under a new name.",
                    ),
                )
            )
    with home.database.write() as connection:
        at = now()
        scans.put_consignment(connection, consignment, str(folder.resolve()), at, lines is not None)
        scans.add_scans(connection, added, at)
        scans.put_receipt_findings(connection, consignment, found, at)
        if lines is not None:
            scans.replace_list(connection, consignment, lines)
    boxes = tuple(sorted({r.box for r, _ in added}))
    return Receipt(consignment, seen, len(added), seen - len(added) - _changed(found), tuple(found), boxes)


def _changed(found: list[tuple[str, Finding]]) -> int:
    return sum(f.code == "changed_file" for _, f in found)


def _files(folder: Path, rules: ReceiveRules) -> Iterator[tuple[Path, Finding | None]]:
    """Every regular file below ``folder`` that may be a scan, in a fixed order; others with their finding."""
    for place, folders, names in os.walk(folder, followlinks=False):
        folders.sort()
        for name in list(folders):
            if (Path(place) / name).is_symlink():
                folders.remove(name)
                yield (Path(place) / name).relative_to(folder), _not_opened("a link to a folder")
        for name in sorted(names):
            path = Path(place) / name
            below = path.relative_to(folder)
            if name.lower() in rules.ignored_names:
                continue
            try:
                mode = path.lstat().st_mode
            except OSError as error:
                yield below, Finding("receive", "unreadable", "failure", f"cannot be read: {error.strerror}.")
                continue
            if not stat.S_ISREG(mode):
                yield below, _not_opened("a link" if stat.S_ISLNK(mode) else "no regular file")
            elif path.suffix.lower().lstrip(".") not in rules.endings:
                yield below, Finding("receive", "not_a_scan", "note", "does not end like a picture and was left alone.")
            else:
                yield below, None


def _not_opened(what: str) -> Finding:
    return Finding("receive", "not_opened", "attention", f"is {what} and was not opened. Put the scan itself here.")


def _digest(path: Path) -> tuple[str, int, int]:
    """SHA-256 (FIPS 180-4), size in bytes and time of change in nanoseconds of one file, opened read-only."""
    flags = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | getattr(os, "O_CLOEXEC", 0)
    with open(os.open(path, flags), "rb") as file:  # noqa: PTH123 - only open() takes a descriptor made with O_NOFOLLOW
        status = os.fstat(file.fileno())
        if not stat.S_ISREG(status.st_mode):
            raise OSError(0, "no regular file")
        made = hashlib.sha256()
        while block := file.read(_READ_BYTES):
            made.update(block)
        return made.hexdigest(), status.st_size, status.st_mtime_ns


def digest_of(path: Path) -> str:
    """SHA-256 of a file as 64 hexadecimal digits. Raises OSError when it cannot be read."""
    return _digest(path)[0]


def _received(consignment: str, path: Path, shown: str, digest: str, size: int, rules: ReceiveRules) -> Received:
    box = _shown(Path(path.parts[0])) if len(path.parts) > 1 else rules.loose_box
    read = rules.name_parts(path.stem)
    piece, side = read if read else (_shown(Path(path.stem)), "recto")
    reference = box.lower() == rules.reference_box
    return Received(consignment, box, piece, side, shown, digest, size, reference)  # type: ignore[arg-type]


def _shown(path: Path) -> str:
    """The path as text that can be stored and shown: bytes that are no UTF-8 stand as \\xNN."""
    return path.as_posix().encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
