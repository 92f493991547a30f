"""A real browser on a real server: Debian's Chromium through Playwright; where it is not installed, tests skip and say so."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright

from scheduler.web.app import make_app
from scheduler.wiring.office import Office


def chromium() -> str:
    """Return the browser's program; skip where there is none."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    pytest.skip("no Chromium is installed (Debian package chromium): browser tests are left out")


@contextmanager
def browser() -> Iterator[Browser]:
    """Give a browser without a window."""
    program = chromium()
    with sync_playwright() as player:
        found = player.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        yield found
        found.close()


class Served:
    """A farm's pages on loopback, which can go away and come back as a network in the field does."""

    def __init__(self, office: Office) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        self.app, self.address = make_app(office), f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Be there."""
        self._server = uvicorn.Server(
            uvicorn.Config(
                self.app, host="127.0.0.1", port=self.port, log_level="error", timeout_graceful_shutdown=1
            )
        )
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        end = time.monotonic() + 20
        while not self._server.started and time.monotonic() < end:
            time.sleep(0.05)

    def stop(self) -> None:
        """Be gone."""
        self._server.should_exit = True
        self._thread.join(10)
