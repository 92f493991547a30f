"""A small door for watchers on the same computer: ``/healthz``, ``/metrics`` and ``/status``. It shows no names and no fields.

Healthy means: the last look is not long ago. A plan or a forecast that is old is a matter for people, and stands in
``/status`` and in the metrics.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from prometheus_client import CONTENT_TYPE_LATEST

from scheduler.service.metrics import Metrics

SILENT_MOST_S = 300.0
"""A service that has not looked for so long hangs; a search ends before."""


class HealthDoor:
    """A server in a thread of its own."""

    def __init__(
        self, metrics: Metrics, status: Callable[[], dict[str, Any]], clock: Callable[[], datetime], host: str, port: int
    ) -> None:  # fmt: skip
        door = self
        self.metrics, self.status, self.clock = metrics, status, clock

        class Answers(BaseHTTPRequestHandler):
            """Answers three questions."""

            timeout = 10

            def do_GET(self) -> None:
                code, kind, body = door.answer(self.path)
                self.send_response(code)
                self.send_header("Content-Type", kind)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Say nothing: a watcher asks every few seconds."""

        self._server = ThreadingHTTPServer((host, port), Answers)
        self._server.daemon_threads = True
        self.port = int(self._server.server_address[1])
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()

    def answer(self, path: str) -> tuple[int, str, bytes]:
        """Return code, content type and body for a path."""
        if path == "/metrics":
            return 200, CONTENT_TYPE_LATEST, self.metrics.text()
        if path == "/healthz":
            looked = float(self.metrics.looked._value.get())
            silent_s = self.clock().timestamp() - looked
            holds = self.metrics.holds_lease._value.get() == 1
            well = not holds or silent_s <= SILENT_MOST_S
            said = {"ok": well, "role": "issues" if holds else "stands by"}
            return (200 if well else 503), "application/json", json.dumps(said).encode()
        if path == "/status":
            return 200, "application/json", json.dumps(self.status(), default=str).encode()
        return 404, "text/plain", b"known here: /healthz /metrics /status\n"

    def close(self) -> None:
        """Stop serving."""
        self._server.shutdown()
        self._server.server_close()
