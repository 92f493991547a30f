"""Hand-outs as JSON to an address, signed so that the receiver knows who sent it.

``X-Fitground-Signature: t=UNIXTIME,v1=HEX`` is the HMAC-SHA256 of ``UNIXTIME.BODY`` under the shared secret (RFC 2104).
``Idempotency-Key`` carries the parcel's name: the same one again is the same hand-out.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import requests

from adapters.outlets.options import only_known, option, secret
from shared.errors import OutletFailed
from shared.parcel import Parcel

TIMEOUT_S = (5.0, 20.0)
LOCAL = ("localhost", "127.0.0.1", "::1")


class WebhookOutlet:
    """POST to an address (port `shared.ports.Outlet`)."""

    def __init__(
        self, name: str, url: str, shared_secret: str, clock: Callable[[], float] = time.time
    ) -> None:
        self.name, self._url, self._secret, self._clock = name, url, shared_secret, clock

    def hand_out(self, parcel: Parcel) -> None:
        """Send one parcel."""
        body = json.dumps(
            {
                "parcel": parcel.name, "kind": parcel.kind, "to": parcel.to, "day": parcel.day.isoformat(), "title": parcel.title, "text": parcel.text,
                "data": dict(parcel.data),
            },
            ensure_ascii=False, default=str,
        ).encode()  # fmt: skip
        headers = {"Content-Type": "application/json", "Idempotency-Key": parcel.name}
        if self._secret:
            headers["X-Fitground-Signature"] = signature(body, self._secret, int(self._clock()))
        host = urlsplit(self._url).hostname
        try:
            # A redirect could carry names and fields to somebody else.
            answer = requests.post(
                self._url, data=body, headers=headers, timeout=TIMEOUT_S, allow_redirects=False
            )
        except requests.RequestException as error:
            raise OutletFailed(f"{self.name}: {host} cannot be reached ({type(error).__name__}).") from error
        if not 200 <= answer.status_code < 300:
            again = answer.status_code in (408, 425, 429) or answer.status_code >= 500
            raise OutletFailed(f"{self.name}: {host} answered {answer.status_code}.", again)


def signature(body: bytes, shared_secret: str, at: int) -> str:
    """Return the signature of a body at a time [s since 1970]."""
    mark = hmac.new(shared_secret.encode(), f"{at}.".encode() + body, hashlib.sha256).hexdigest()
    return f"t={at},v1={mark}"


def open_webhook(name: str, farm_folder: Path, options: Mapping[str, Any], environment: Mapping[str, str]) -> WebhookOutlet:  # fmt: skip
    """Open an address; options ``url`` and ``secret_env``."""
    only_known(name, options, {"url", "secret_env"})
    allowed = 'an address such as "https://office.example/lists"'
    url = option(name, options, "url", allowed)
    parts = urlsplit(url)
    if parts.scheme != "https" and not (parts.scheme == "http" and parts.hostname in LOCAL):
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.url {url!r} is not safe; allowed: {allowed}.", again=False
        )
    return WebhookOutlet(name, url, secret(name, options, "secret_env", environment))
