"""The form of a bag, BagIt 1.0 (RFC 8493): its declaration, its manifests, and what a path in one may be."""

import re
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from intake.errors import UsageError

DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
ALGORITHMS = ("sha256", "sha512")
_LINE = re.compile(r"([0-9A-Fa-f]+)[ \t]+\*?(.+)")
_LENGTH = {"sha256": 64, "sha512": 128}
_MOST_BYTES = 256_000_000


def encoded(path: str) -> str:
    """A path as a manifest writes it: CR, LF and % alone are percent-encoded (section 2.1.3)."""
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def manifest(lines: Iterable[tuple[str, str]]) -> str:
    """A manifest of (path, digest), by path."""
    return "".join(f"{digest}  {encoded(path)}\n" for path, digest in sorted(lines))


def read_manifest(path: Path, algorithm: str, payload: bool) -> dict[str, str]:
    """Path -> digest of one manifest.

    Raises UsageError when it is not there, is no manifest, or names a path twice or one that leaves the bag.
    """
    made: dict[str, str] = {}
    for number, line in enumerate(read_tag_file(path).splitlines(), start=1):
        found = _LINE.fullmatch(line)
        if not found or len(found[1]) != _LENGTH[algorithm]:
            raise UsageError(f"{path}, line {number}: is no line of a manifest: {line[:80]!r}.")
        name = found[2].replace("%0A", "\n").replace("%0a", "\n").replace("%0D", "\r").replace("%0d", "\r")
        name = name.replace("%25", "%")
        if not is_safe(name) or name.startswith("data/") is not payload:
            raise UsageError(f"{path}, line {number}: the path {name[:80]!r} is refused: it may not leave the bag.")
        if name in made:
            raise UsageError(f"{path}, line {number}: {name[:80]!r} is named twice.")
        made[name] = found[1].lower()
    return made


def is_safe(name: str) -> bool:
    """Does the path stay below the folder that it is in? Section 5: no dots that climb, no root, home or drive."""
    parts = name.split("/")
    return (
        bool(name)
        and "\0" not in name
        and not name.startswith(("/", "~"))
        and not re.match(r"[A-Za-z]:", name)
        and "\\" not in name
        and all(p not in ("", ".", "..") and len(p.encode("utf-8", "replace")) <= 255 for p in parts)
        and len(PurePosixPath(name).parts) == len(parts)
    )


def read_tag_file(path: Path) -> str:
    """A tag file, as UTF-8. Raises UsageError when it is not there, is a link, too large or no UTF-8."""
    try:
        if path.is_symlink() or not path.is_file():
            raise UsageError(f"{path}: is not there, or no file.")
        if path.stat().st_size > _MOST_BYTES:
            raise UsageError(f"{path}: is larger than {_MOST_BYTES // 1_000_000} MB.")
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path}: cannot be read ({error}).") from error
