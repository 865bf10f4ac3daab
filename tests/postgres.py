"""A throw-away PostgreSQL server for the tests that need a real one."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.tools import POSTGRES


@contextmanager
def running_postgres() -> Iterator[str]:
    """Run an empty server on loopback while the block runs.

    Yields the SQLAlchemy address of its ``postgres`` database; tests make databases of their own in it. The cluster
    lies in a temporary folder and goes with the block. Skips the calling test, with the command to type, where no
    server is installed. RuntimeError with the server's words where it does not start.
    """
    programs = POSTGRES.find()
    if programs is None:
        pytest.skip(POSTGRES.why_skipped())
    # initdb refuses root, so that there the cluster belongs to a user who may do little.
    owner = _unprivileged_user() if os.geteuid() == 0 else None
    home = Path(tempfile.mkdtemp(prefix="kinfold-postgres-"))
    try:
        if owner:
            os.chown(home, owner.pw_uid, owner.pw_gid)
        cluster, port = home / "cluster", _free_port()
        make = ("-U", "kinfold", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        serve = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off"
        _run(owner, programs / "initdb", "-D", cluster, *make)
        _run(owner, programs / "pg_ctl", "-D", cluster, "-l", home / "log", "-w", "-t", "60", "-o", serve, "start")
        try:
            yield f"postgresql+psycopg://kinfold@127.0.0.1:{port}/postgres"
        finally:
            _run(owner, programs / "pg_ctl", "-D", cluster, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home)


def _run(owner: pwd.struct_passwd | None, *command: Path | str) -> None:
    # Output goes to a file: the server keeps what it inherits open, so that reading a pipe would never end.
    with tempfile.TemporaryFile("w+") as said:
        done = subprocess.run(
            [str(word) for word in command],
            cwd="/",
            env={key: value for key, value in os.environ.items() if not key.startswith("PG")},
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.STDOUT,
            timeout=120,
            user=owner.pw_uid if owner else None,
            group=owner.pw_gid if owner else None,
            extra_groups=[] if owner else None,
        )
        said.seek(0)
        if done.returncode:
            raise RuntimeError(f"{command[0]} ended with {done.returncode} and said: {said.read()}")


def _unprivileged_user() -> pwd.struct_passwd:
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    pytest.skip("PostgreSQL cannot be run as root, and this machine has neither a postgres nor a nobody user")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
