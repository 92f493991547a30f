"""How often a host is asked: a gap between requests, and silence for as long as the service demands it.

The pace is kept where requests leave for the network, so a reply out of the cache costs no wait.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter

LEAST_GAP_S = 1.0
"""Between two requests to one host: far below the limits of every service that is known here."""


class HostResting(requests.ConnectionError):
    """The service asked not to be asked for a while, and that while is not over."""


@dataclass
class Pace:
    """Remembers when each host was asked last, and until when it wants to be left alone [s of `monotonic`]."""

    sleep: Callable[[float], None] = time.sleep
    monotonic: Callable[[], float] = time.monotonic
    least_gap_s: float = LEAST_GAP_S
    _last: dict[str, float] = field(default_factory=dict)
    _rests_until: dict[str, float] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_for_turn(self, url: str) -> None:
        """Return when the host of an address may be asked.

        Raises
        ------
        HostResting
            Not for a while.
        """
        host = urlsplit(url).netloc
        with self._lock:
            now = self.monotonic()
            rest = self._rests_until.get(host, now) - now
            if rest > 0:
                raise HostResting(f"wants no request for {rest:.0f} s")
            last = self._last.get(host)
            gap = 0.0 if last is None else self.least_gap_s - (now - last)
            if gap > 0:
                self.sleep(gap)
            self._last[host] = max(now, now + gap)

    def rest(self, url: str, seconds: float) -> None:
        """Leave a host alone for a while [s]."""
        self._rests_until[urlsplit(url).netloc] = self.monotonic() + seconds


class PacedAdapter(HTTPAdapter):
    """Transport that waits for its turn."""

    def __init__(self, pace: Pace) -> None:
        super().__init__()
        self._pace = pace

    def send(self, request: requests.PreparedRequest, *args: Any, **more: Any) -> requests.Response:
        """Send when the host may be asked."""
        self._pace.wait_for_turn(str(request.url))
        return super().send(request, *args, **more)


__all__ = ["HostResting", "Pace", "PacedAdapter"]
