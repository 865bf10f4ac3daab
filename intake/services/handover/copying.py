"""Copy a file and take its SHA-256 and SHA-512 (FIPS 180-4) in the same read.

    python copying.py < jobs > answers

copies many in a process of its own: a job is a line of JSON, [source, to]; so is its answer, [sha256, sha512, size], or
[number, words] of the error at which it stops. Needs the standard library alone, so that it starts quickly.
"""

import hashlib
import json
import os
import stat
import subprocess
import sys
from collections.abc import Iterable
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


class CopiesBeside:
    """Copies made by a process of their own, while this one makes records: its digests wait for no interpreter.

    It ends with the block, and where this process dies: nobody is left to take its answers.
    """

    def __init__(self, jobs: Iterable[tuple[Path, Path]]) -> None:
        """``jobs`` are files to be read and where each is to be written, as ``Copier.copy`` does it, in their order."""
        asked = "".join(json.dumps([str(source), str(to)]) + "\n" for source, to in jobs).encode()
        pipe = subprocess.PIPE
        self._process = subprocess.Popen([sys.executable, "-I", __file__], stdin=pipe, stdout=pipe, stderr=pipe)
        self._pool = ThreadPoolExecutor(1)
        self._said = self._pool.submit(self._process.communicate, asked)

    def __enter__(self) -> "CopiesBeside":
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._pool.shutdown()
        with self._process:  # its pipes are closed, and its end is waited for
            pass

    def answers(self) -> tuple[list[Digests], OSError | None]:
        """Wait for the end: what each file is known by, up to the first that could not be copied, and why not."""
        out, told = self._said.result()
        made = [json.loads(line) for line in out.splitlines()]
        if made and len(made[-1]) == 2:  # an error: its number and its words
            return [Digests(*one) for one in made[:-1]], OSError(*made[-1])
        if self._process.returncode:
            raise OSError(0, "the process that copies died: " + told.decode("utf-8", "replace")[-300:].strip())
        return [Digests(*one) for one in made], None


def main() -> None:
    """Copy what stdin asks for."""
    with Copier() as copier:
        for line in sys.stdin:
            source, to = map(Path, json.loads(line))
            try:
                answer: tuple[object, ...] = copier.copy(source, to)
            except OSError as error:
                answer = (error.errno or 0, error.strerror or str(error))
            print(json.dumps(answer), flush=True)
            if not isinstance(answer, Digests):
                return


if __name__ == "__main__":
    main()
