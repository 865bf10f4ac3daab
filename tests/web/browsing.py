"""A desk that is being served, and a real browser before it."""

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from intake.config.load import Config
from intake.web.app import make_app
from tests.web.hand import HOST, Made

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
IN_A_BROWSER = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="no Chromium: apt-get install chromium"),
]
SHOTS = os.environ.get("KINFOLD_SHOTS")


@dataclass
class Desk:
    """A desk that is being served, and its home."""

    address: str
    made: Made


@contextmanager
def served(made: Made, config: Config) -> Iterator[Desk]:
    """The desk over this home, at a port of its own."""
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        port = taken.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(made.home, config, HOST, port), HOST, port, log_level="error"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield Desk(f"http://{HOST}:{port}", made)
    finally:
        server.should_exit = True
        thread.join()


@contextmanager
def opened(profile: Path) -> Iterator[Any]:
    """A page of a browser with a profile of its own. Fails when anything goes to its console, or a dialog comes."""
    from playwright.sync_api import sync_playwright

    troubles: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch_persistent_context(
            profile, executable_path=CHROMIUM, args=FLAGS, viewport={"width": 1280, "height": 800}
        )
        page = browser.new_page()
        page.set_default_timeout(90_000)  # the machine may be busy
        page.on(
            "console",
            lambda m: (
                troubles.append(f"{m.text} {m.location.get('url', '')}") if m.type in ("error", "warning") else None
            ),
        )
        page.on("pageerror", lambda e: troubles.append(str(e)))
        page.on("dialog", lambda d: troubles.append(f"a dialog: {d.message}"))
        yield page
        browser.close()
    # A refusal in words is a page of its own, with a status that the browser notes; a test may break a line itself.
    own = ("status of 409", "net::ERR_FAILED")
    left = [t for t in troubles if not any(words in t for words in own)]
    assert left == [], left


def shot(page: Any, name: str) -> None:
    """Keep a picture of the page where KINFOLD_SHOTS names a folder."""
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=f"{SHOTS}/{name}.png")
