"""Pyramids of the scans that are looked at: made on first look, one at a time, let go when they are too many."""

import contextlib
import os
import threading
from collections import OrderedDict
from collections.abc import Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from intake.config.load import Config
from intake.imaging.libvips import pyvips
from intake.imaging.original import Unreadable, open_original
from intake.imaging.pyramid import Pyramid, write_pyramid
from intake.model import PartFound, PartKey
from intake.services.home import Home
from intake.services.receive import digest_of

_MB = 2**20
_NOT_THERE = "The file that was received is not where it was, so it cannot be looked at closer."


@dataclass(frozen=True, slots=True)
class Source:
    """A part, and the received files (folder, path) that hold it."""

    key: PartKey
    found: PartFound
    files: tuple[tuple[str, str], ...]


class Pyramids:
    """The pyramids in the home. They are derived: whatever is deleted here is made again when it is wanted."""

    def __init__(self, home: Home, config: Config) -> None:
        self._folder = home.folder / "pyramids"
        self._scratch = home.scratch
        self._config = config
        self._open: OrderedDict[str, Pyramid] = OrderedDict()
        self._making: dict[str, Future[str]] = {}
        self._guard = threading.Lock()
        self._maker = ThreadPoolExecutor(1, thread_name_prefix="pyramid")
        self._folder.mkdir(exist_ok=True, mode=0o700)
        for left in self._folder.glob(".*"):  # of a desk that was ended while it made one
            left.unlink(missing_ok=True)

    def get(self, source: Source) -> Pyramid | None:
        """The pyramid of a part; None when there is none yet."""
        name = self._name(source)
        with self._guard:
            if name in self._open:
                self._open.move_to_end(name)
                return self._open[name]
            path = self._folder / name
            if not path.is_file():
                return None
            try:
                made = Pyramid(path)
            except pyvips.Error:
                path.unlink(missing_ok=True)
                return None
            os.utime(path)
            self._open[name] = made
            while len(self._open) > self._config.looking.open_pyramids:
                self._open.popitem(last=False)
            return made

    def make(self, source: Source) -> "Future[str]":
        """Begin to make a pyramid, unless it is there or begun. The answer is why there is none; empty: there is."""
        name = self._name(source)
        with self._guard:
            known = self._making.get(name)
            if known is not None and (not known.done() or known.result() or (self._folder / name).is_file()):
                return known
            self._making[name] = self._maker.submit(self._make, source, self._folder / name)
            return self._making[name]

    def close(self) -> None:
        """Begin no more."""
        self._maker.shutdown(wait=False, cancel_futures=True)

    def _name(self, source: Source) -> str:
        box = "-".join(map(str, source.found.box))
        rules = self._config.looking
        made_so = f"{rules.pyramid_tile_px}q{rules.pyramid_quality}"
        return f"{source.key.digest}-{source.key.part}-{source.found.page}-{box}-{made_so}.tif"

    def _make(self, source: Source, path: Path) -> str:
        if path.is_file():
            return ""
        temporary = path.with_name(f".{path.stem}.{os.getpid()}.tif")
        try:
            original = next((f for f in _paths(source.files) if _is_the_file(f, source.key.digest)), None)
            if original is None:
                return _NOT_THERE
            rules = self._config.looking
            with open_original(original, self._config.check, self._scratch) as opened:
                write_pyramid(opened, source.found, temporary, rules.pyramid_tile_px, rules.pyramid_quality)
            temporary.replace(path)
            self._evict(path)
            return ""
        except (OSError, Unreadable, ValueError, StopIteration, pyvips.Error) as error:
            why = str(error).splitlines()
            return f"The file cannot be looked at closer ({why[0][:200] if why else 'damaged'})."
        finally:
            temporary.unlink(missing_ok=True)

    def _evict(self, newest: Path) -> None:
        """Let go of those not looked at for longest until the rest is within the bound."""
        there = []
        for path in self._folder.glob("*.tif"):
            with contextlib.suppress(OSError):
                there.append((path.stat().st_mtime_ns, path.stat().st_size, path))
        held = sum(size for _, size, _ in there)
        for _, size, path in sorted(there):
            if held <= self._config.looking.pyramids_mb * _MB or path == newest:
                break
            with self._guard:
                self._open.pop(path.name, None)
                path.unlink(missing_ok=True)
            held -= size


def _paths(files: Iterable[tuple[str, str]]) -> Iterable[Path]:
    from intake.services.look import stored_path  # heavy: every stage

    return (stored_path(Path(folder), path) for folder, path in files)


def _is_the_file(path: Path, digest: str) -> bool:
    try:
        return digest_of(path) == digest
    except OSError:
        return False
