"""Copy a file and take its SHA-256 and SHA-512 (FIPS 180-4) in the same read."""

import hashlib
import os
import stat
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

_BLOCK = 1 << 22
_SMALL = 1 << 18


class Digests(NamedTuple):
    """What a file is known by."""

    sha256: str
    sha512: str
    size: int


class Copier:
    """Copies one file after another; the two digests are taken beside each other, off the lock of the interpreter."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(2)
        self._blocks = (memoryview(bytearray(_BLOCK)), memoryview(bytearray(_BLOCK)))

    def __enter__(self) -> "Copier":
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown()

    def copy(self, source: Path, to: Path | None) -> Digests:
        """Read ``source``, a regular file and no link, once; write it to ``to``, which must not be there, if named.

        Raises OSError when it cannot be read or written.
        """
        flags = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
        with open(os.open(source, flags), "rb", buffering=0) as file:  # noqa: PTH123 - only open() takes a descriptor
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise OSError(0, "no regular file")
            if to is None:
                return self._read(file.fileno(), -1)
            to.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            with to.open("xb", buffering=0) as out:
                return self._read(file.fileno(), out.fileno())

    def _read(self, source: int, to: int) -> Digests:
        short, long, size, turn = hashlib.sha256(), hashlib.sha512(), 0, 0
        waiting: list[Future[None]] = []
        while count := os.readv(source, [self._blocks[turn]]):  # the other block is still being digested
            block = self._blocks[turn][:count]
            for future in waiting:
                future.result()
            if count <= _SMALL:
                short.update(block)
                long.update(block)
                waiting = []
            else:
                waiting = [self._pool.submit(short.update, block), self._pool.submit(long.update, block)]
            written = 0
            while to >= 0 and written < count:
                written += os.write(to, block[written:])
            size, turn = size + count, 1 - turn
        for future in waiting:
            future.result()
        return Digests(short.hexdigest(), long.hexdigest(), size)
