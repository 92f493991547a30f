"""A polite HTTP client over requests-cache: one User-Agent, conditional requests, expiry from the reply, back-off, time-outs.

A reply that says how long it holds is not asked for again before; later it is asked for conditionally. When a service
fails, the last good reply is given back and called stale. A cache file that cannot be used is set aside and begun anew.
Time and randomness come in as arguments, so that tests neither sleep nor roll dice.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from importlib.metadata import version
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import urlsplit

import requests
from requests_cache import CachedSession

from shared.errors import WeatherUnavailable

TIMEOUT_S = (5.0, 25.0)
ATTEMPTS = 3
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 60.0
LEAST_GAP_S = 1.0
"""Between two requests to one host."""
RETRIED = frozenset({408, 425, 429, 500, 502, 503, 504})
DEFAULT_EXPIRY = timedelta(hours=1)
"""For replies that do not say how long they hold."""
BODY_MOST = 30_000_000
KEPT = "weather-kept"
"""Folder beside the cache: the last good reply of each question."""


@dataclass(frozen=True)
class Reply:
    """A JSON reply.

    Attributes
    ----------
    payload : any
    fetched_at : datetime
        When the service said it (not when the cache gave it back).
    stale : str
        Why an old reply had to do; empty when it holds.
    """

    payload: Any
    fetched_at: datetime
    stale: str = ""


@dataclass
class PoliteClient:
    """Asks services for JSON.

    Attributes
    ----------
    cache : Path or None
        SQLite file; None keeps replies in memory.
    contact : str
        Mail address or page of whoever runs fitground, told to the services; they demand it.
    """

    cache: Path | None
    contact: str
    sleep: Callable[[float], None] = time.sleep
    monotonic: Callable[[], float] = time.monotonic
    luck: Random = field(default_factory=lambda: Random(time.time_ns()))
    notes: list[str] = field(default_factory=list)
    _last: dict[str, float] = field(default_factory=dict)
    _good: dict[str, Reply] = field(default_factory=dict)
    _session: CachedSession | None = None

    @property
    def user_agent(self) -> str:
        """What services are told about who asks."""
        return f"fitground/{version('fitground')} ({self.contact})"

    def json(
        self, url: str, params: Mapping[str, str] | None = None, expiry: timedelta | None = None
    ) -> Reply:
        """Return the JSON at an address.

        Parameters
        ----------
        expiry : timedelta, optional
            How long the reply holds when it does not say so itself.

        Raises
        ------
        WeatherUnavailable
            No reply, and none kept from before; one sentence without a traceback.
        """
        if not self.contact.strip():
            raise WeatherUnavailable(
                'farm.toml: weather.options.contact is missing; allowed: a mail address or page, such as "me@example.org".'
            )
        host, problem = urlsplit(url).hostname or url, ""
        for attempt in range(ATTEMPTS):
            response, problem, wait = self._once(url, params, expiry)
            if response is not None:
                reply = Reply(response.json(), _fetched_at(response))
                if not getattr(response, "from_cache", False):
                    self._keep(url, params, reply)
                return reply
            if wait is None or attempt == ATTEMPTS - 1:
                break
            self.sleep(wait * (0.75 + 0.5 * self.luck.random()) * 2**attempt)
        kept = self._kept(url, params)
        if kept is not None:
            return replace(kept, stale=f"{host} {problem}")
        raise WeatherUnavailable(f"{host} {problem}, and no earlier reply is kept.")

    def _once(
        self, url: str, params: Mapping[str, str] | None, expiry: timedelta | None
    ) -> tuple[requests.Response | None, str, float | None]:
        """Return a sound reply, or what is wrong and how long to wait (None: asking again is of no use)."""
        try:
            self._pause(url)
            response = self.session().get(
                url, params=params, headers={"User-Agent": self.user_agent, "Accept": "application/geo+json, application/json"},
                timeout=TIMEOUT_S, expire_after=expiry or DEFAULT_EXPIRY,
            )  # fmt: skip
        except (sqlite3.Error, UnicodeDecodeError, ValueError) as error:
            self._set_aside(str(error))
            return None, "could not be asked because the cache file is damaged", 0.0
        except requests.Timeout:
            return None, "did not answer in time", FIRST_WAIT_S
        except requests.RequestException as error:
            return None, f"cannot be reached ({type(error).__name__})", FIRST_WAIT_S
        if response.status_code in RETRIED:
            return None, f"answered {response.status_code}", _wait_of(response)
        if response.status_code != 200:
            return None, f"answered {response.status_code}", None
        if not is_json(response):
            return None, "answered something else than JSON", FIRST_WAIT_S
        return response, "", None

    def session(self) -> CachedSession:
        """Return the session, opened on first use."""
        if self._session is None:
            try:
                self._session = self._open()
                self._session.cache.contains("nothing")
            except (sqlite3.Error, OSError) as error:
                self._set_aside(str(error))
                self._session = self._open()
        return self._session

    def _open(self) -> CachedSession:
        name, backend = ("memory", "memory") if self.cache is None else (str(self.cache), "sqlite")
        return CachedSession(
            name, backend=backend, cache_control=True, allowable_codes=(200,), filter_fn=is_json, expire_after=DEFAULT_EXPIRY
        )  # fmt: skip

    def _set_aside(self, why: str) -> None:
        """Put a damaged cache file aside; what was in it is asked for again."""
        if self._session is not None:
            self._session.close()
            self._session = None
        if self.cache is None:
            return
        found = [path for path in {self.cache, self.cache.with_suffix(".sqlite")} if path.exists()]
        for path in found:
            path.replace(path.with_name(f"{path.name}.broken"))
        if found:
            self.notes.append(
                f"the weather cache {found[0].name} was damaged ({why}); it was set aside and begun anew"
            )

    def _pause(self, url: str) -> None:
        """Leave a gap between two requests to one host; replies out of the cache need none."""
        host = urlsplit(url).hostname or url
        last, now = self._last.get(host), self.monotonic()
        if last is not None and now - last < LEAST_GAP_S:
            self.sleep(LEAST_GAP_S - (now - last))
        self._last[host] = self.monotonic()

    def _keep(self, url: str, params: Mapping[str, str] | None, reply: Reply) -> None:
        """Keep a good reply for bad days: the cache itself forgets one when the next is no good."""
        key = _key(url, params)
        self._good[key] = reply
        if self.cache is None:
            return
        folder = self.cache.parent / KEPT
        folder.mkdir(parents=True, exist_ok=True)
        draft = folder / f"{key}.part"
        draft.write_text(
            json.dumps({"at": reply.fetched_at.isoformat(), "payload": reply.payload}), encoding="utf-8"
        )
        draft.replace(folder / f"{key}.json")

    def _kept(self, url: str, params: Mapping[str, str] | None) -> Reply | None:
        """Return the last good reply whatever its age; a file that cannot be read is none."""
        key = _key(url, params)
        if key in self._good or self.cache is None:
            return self._good.get(key)
        try:
            found = json.loads((self.cache.parent / KEPT / f"{key}.json").read_text(encoding="utf-8"))
            return Reply(found["payload"], datetime.fromisoformat(found["at"]))
        except (OSError, ValueError, KeyError, TypeError):
            return None


def _key(url: str, params: Mapping[str, str] | None) -> str:
    """Return a name for what is asked; keys of services stay out of file names."""
    return hashlib.sha256(json.dumps([url, dict(params or {})], sort_keys=True).encode()).hexdigest()[:24]


def is_json(response: requests.Response) -> bool:
    """Return whether a body is JSON: error pages and broken streams come with status 200 as well."""
    if len(response.content) > BODY_MOST:
        return False
    try:
        json.loads(response.content)
    except (ValueError, UnicodeDecodeError):
        return False
    return True


def _wait_of(response: requests.Response) -> float:
    """Return how long the service asks to wait [s], at most a minute."""
    told = response.headers.get("Retry-After", "")
    try:
        wait = float(told)
    except ValueError:
        try:
            wait = (parsedate_to_datetime(told) - datetime.now(UTC)).total_seconds()
        except (TypeError, ValueError):
            wait = FIRST_WAIT_S
    return min(LONGEST_WAIT_S, max(FIRST_WAIT_S, wait))


def _fetched_at(response: requests.Response) -> datetime:
    made = getattr(response, "created_at", None)
    if not isinstance(made, datetime):
        return datetime.now(UTC)
    return made if made.tzinfo is not None else made.replace(tzinfo=UTC)
