"""A Prefect server on loopback for tests and benches: its own process, with its tables in a folder of its own."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def running_server(folder: Path) -> Iterator[str]:
    """Run it while the block runs; yields its API's address. RuntimeError with its words where it does not start."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    folder.mkdir(exist_ok=True)
    settings = {
        "PREFECT_HOME": str(folder),
        "PREFECT_API_DATABASE_CONNECTION_URL": f"sqlite+aiosqlite:///{folder}/engine.db",
        "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
        "DO_NOT_TRACK": "1",
    }
    log = (folder / "server.log").open("w+")
    server = subprocess.Popen(
        [sys.executable, "-m", "prefect", "server", "start", "--host", "127.0.0.1", "--port", str(port), "--no-ui"],
        stdout=log,
        stderr=subprocess.STDOUT,
        env=os.environ | settings,
        start_new_session=True,
    )
    address = f"http://127.0.0.1:{port}/api"
    try:
        ends = time.monotonic() + 180
        while not _answers(address):
            if server.poll() is not None or time.monotonic() > ends:
                log.seek(0)
                raise RuntimeError(log.read())
            time.sleep(0.3)
        yield address
    finally:
        server.terminate()
        try:
            server.wait(30)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
        log.close()


def _answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"{address}/health", timeout=5) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False
