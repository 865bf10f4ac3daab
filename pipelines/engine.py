"""Prefect, told to stay at home: its files in our folder, no telemetry, no noise. Call before importing it."""

import os
import signal
from pathlib import Path


def prepare(home: Path) -> None:
    """Set what Prefect reads from the environment, and end a server that a killed run left behind.

    Where a worker has named a server (KINFOLD_SERVER), that one is used.
    """
    if server := os.environ.get("KINFOLD_SERVER"):
        use_server(home, server)
        return
    end_server(home)
    _set_up(home)
    os.environ.pop("PREFECT_API_URL", None)


def use_server(home: Path, server: str) -> None:
    """Set what Prefect reads from the environment to use the server at this address."""
    _set_up(home)
    os.environ["PREFECT_API_URL"] = server


def _set_up(home: Path) -> None:
    folder = home / "prefect"
    folder.mkdir(exist_ok=True, mode=0o700)
    os.environ |= {
        "PREFECT_HOME": str(folder),
        "PREFECT_API_DATABASE_CONNECTION_URL": f"sqlite+aiosqlite:///{folder}/engine.db",
        "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
        "DO_NOT_TRACK": "1",
        # The default of 20 s was overrun on a busy machine.
        "PREFECT_SERVER_EPHEMERAL_STARTUP_TIMEOUT_SECONDS": "180",
        # What goes wrong is said once, by us, and written to our own log.
        "PREFECT_LOGGING_LEVEL": "CRITICAL",
        "PREFECT_LOGGING_TO_API_ENABLED": "false",
        "PREFECT_SERVER_LOGGING_LEVEL": "CRITICAL",
    }


def note_server(home: Path) -> None:
    """Write down which process serves this run, so that the next run can end it should we be killed."""
    from prefect.server.api.server import SubprocessASGIServer

    for server in SubprocessASGIServer._instances.values():
        if server.server_process is not None:
            (home / "prefect" / "server.pid").write_text(str(server.server_process.pid))


def end_server(home: Path) -> None:
    """End the server that was noted, if it still runs."""
    note = home / "prefect" / "server.pid"
    try:
        pid = int(note.read_text())
        command = Path(f"/proc/{pid}/cmdline").read_bytes()
    except (OSError, ValueError):
        return
    if b"prefect.server" in command:
        os.kill(pid, signal.SIGTERM)
    note.unlink(missing_ok=True)
