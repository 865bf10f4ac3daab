"""Take in a folder: read-only to us, first-level folders are boxes, every file known by its digest."""

import hashlib
import os
import stat
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from intake.config.receive import ReceiveRules, piece_number
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
    read, when scans of this consignment that are on record lie elsewhere, or when the code is empty, too long or holds
    control characters.
    """
    if not consignment.strip() or len(consignment) > _LONGEST_CODE or not consignment.isprintable():
        raise UsageError(f"--consignment {consignment!r}: give a code of 1 to {_LONGEST_CODE} printable characters.")
    if not folder.is_dir():
        raise UsageError(f"{folder}: not a folder. Name the folder that holds the boxes.")
    if home.folder.resolve().is_relative_to(folder.resolve()):
        raise UsageError(f"{folder}: the home {home.folder} lies in it. Name another home with --home.")
    lines = read_box_list(box_list) if box_list else None
    with home.database.read() as connection:
        known = scans.known_files(connection, consignment)
        before_at = next((c.folder for c in scans.consignments(connection) if c.code == consignment), None)
    listing = _named(folder, rules)
    place = _place(folder)
    if before_at not in (None, place) and (gone := sorted(known.keys() - {shown for _, shown, _ in listing})):
        raise UsageError(
            f"{folder}: consignment {consignment} was received from {before_at}, and {len(gone)} of its scans are not "
            f"here, such as {gone[0]}. Give this delivery a code of its own, or put its boxes into that folder."
        )

    added: list[tuple[Received, int]] = []
    found: list[tuple[str, Finding]] = []
    seen = 0
    for path, shown, trouble in listing:
        if trouble is not None:
            found.append((shown, trouble))
            continue
        full = folder / path
        try:
            digest, size, modified = _digest(full)
        except OSError as error:
            found.append((shown, _unreadable(error)))
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
        scans.put_consignment(connection, consignment, place, at, lines is not None)
        recorded = scans.known_files(connection, consignment)  # once more: another receipt may have come between
        scans.add_scans(connection, [(r, changed) for r, changed in added if r.path not in recorded], at)
        scans.replace_receipt_findings(connection, consignment, found, at)
        if lines is not None:
            scans.replace_list(connection, consignment, lines)
    boxes = tuple(sorted({r.box for r, _ in added}))
    return Receipt(consignment, seen, len(added), seen - len(added) - _changed(found), tuple(found), boxes)


def _changed(found: list[tuple[str, Finding]]) -> int:
    return sum(f.code == "changed_file" for _, f in found)


def _place(folder: Path) -> str:
    place = str(folder.resolve())
    if _shown(Path(place)) != place:
        raise UsageError(f"{_shown(folder)}: the way to this folder holds bytes that are no UTF-8. Rename or move it.")
    return place


def _named(folder: Path, rules: ReceiveRules) -> list[tuple[Path, str, Finding | None]]:
    """Every file below ``folder`` with the name under which it goes on record; none is taken in twice."""
    made, names = [], set()
    for path, trouble in _files(folder, rules):
        shown = _shown(path)
        if shown in names:
            words = "is the written name of a second file too, one with bytes that are no UTF-8. Rename that one."
            trouble = Finding("receive", "name_twice", "attention", words)
        names.add(shown)
        made.append((path, shown, trouble))
    return made


def _files(folder: Path, rules: ReceiveRules) -> Iterator[tuple[Path, Finding | None]]:
    """Every regular file below ``folder`` that may be a scan, in a fixed order; others with their finding."""
    waiting = [folder]
    while waiting:
        place = waiting.pop()
        try:
            with os.scandir(place) as entries:
                here = sorted(entries, key=lambda e: e.name)
        except OSError as error:
            yield place.relative_to(folder), _unreadable(error)
            continue
        folders = []
        for entry in here:
            path = Path(entry.path)
            below = path.relative_to(folder)
            try:
                mode = entry.stat(follow_symlinks=False).st_mode
            except OSError as error:
                yield below, _unreadable(error)
                continue
            if stat.S_ISDIR(mode):
                folders.append(path)
            elif entry.name.lower() in rules.ignored_names:
                continue
            elif not stat.S_ISREG(mode):
                yield below, _not_opened("a link" if stat.S_ISLNK(mode) else "no regular file")
            elif path.suffix.lower().lstrip(".") not in rules.endings:
                yield below, Finding("receive", "not_a_scan", "note", "does not end like a picture and was left alone.")
            else:
                yield below, None
        waiting += reversed(folders)


def _unreadable(error: OSError) -> Finding:
    return Finding(
        "receive", "unreadable", "failure", f"cannot be read: {error.strerror}. Put it right, receive again."
    )


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
    box = unicodedata.normalize("NFC", _shown(Path(path.parts[0]))) if len(path.parts) > 1 else rules.loose_box
    read = rules.name_parts(path.stem)
    piece, side = read if read else (piece_number(_shown(Path(path.stem))), "recto")
    reference = box.lower() == rules.reference_box
    return Received(consignment, box, piece, side, shown, digest, size, reference, rules.sequence(path.stem))  # type: ignore[arg-type]


def _shown(path: Path) -> str:
    """The path as text that can be stored and shown: bytes that are no UTF-8 stand as \\xNN."""
    return path.as_posix().encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
