"""A polite HTTP client over requests-cache: one User-Agent, conditional requests, expiry from the reply, back-off, time-outs.

A reply that says how long it holds is not asked for again before; later it is asked for conditionally. When a service
fails, the last good reply is given back and called stale. A wait that a service asks for is kept in full; one that is too
long to sit out leaves the service alone until it is over. A cache file that is damaged is set aside and begun anew; one that
cannot be used now (locked, disk full) is left as it is. Time and randomness come in as arguments.
"""

from __future__ import annotations

import json
import logging
import sqlite3
import time
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from importlib.metadata import version
from pathlib import Path
from random import Random
from urllib.parse import urlsplit

import requests
from requests_cache import CachedSession

from adapters.http.kept import SECRET, KeptReplies, Reply
from adapters.http.pace import HostResting, Pace, PacedAdapter
from shared.errors import WeatherUnavailable

TIMEOUT_S = (5.0, 25.0)
ATTEMPTS = 3
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 60.0
TOO_MANY_WAIT_S = 5.0
"""After a 429 that names no time."""
RETRIED = frozenset({408, 425, 429, 500, 502, 503, 504})
GOOD = (200, 203)
"""203: the service will end this product; Norway's says so a while before."""
DEFAULT_EXPIRY = timedelta(hours=1)
"""For replies that do not say how long they hold."""
BODY_MOST = 30_000_000
BUSY_S = 2.0
"""How long to wait for another program that holds the cache."""
KEPT = "weather-kept"
"""Folder beside the cache: the last good reply of each question."""
PASSING = ("locked", "busy", "full", "readonly", "read-only", "unable to open", "disk i/o")
"""Words of SQLite's complaints that say nothing against the file."""
logging.getLogger("requests_cache").setLevel(logging.ERROR)


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass
class PoliteClient:
    """Asks services for JSON.

    Attributes
    ----------
    cache : Path or None
        SQLite file; None keeps replies in memory.
    contact : str
        Mail address or page of whoever runs fitground, told to the services; they demand it.
    notes : list of str
        Sentences a person should see, such as about a cache file that was set aside.
    """

    cache: Path | None
    contact: str
    sleep: Callable[[float], None] = time.sleep
    monotonic: Callable[[], float] = time.monotonic
    clock: Callable[[], datetime] = _now
    luck: Random = field(default_factory=lambda: Random(time.time_ns()))
    notes: list[str] = field(default_factory=list)
    _session: CachedSession | None = None

    def __post_init__(self) -> None:
        self._pace = Pace(self.sleep, self.monotonic)
        self._replies = KeptReplies(None if self.cache is None else self.cache.parent / KEPT)

    @property
    def user_agent(self) -> str:
        """What services are told about who asks."""
        return f"fitground/{version('fitground')} ({self.contact.strip()})"

    def json(
        self, url: str, params: Mapping[str, str] | None = None, expiry: timedelta | None = None,
        stale_most: timedelta | None = None, body: Mapping[str, str] | None = None,
    ) -> Reply:  # fmt: skip
        """Return the JSON at an address.

        Parameters
        ----------
        body : mapping, optional
            Sent as JSON by POST to a service that takes its questions so; the same question is answered from the cache.
        expiry : timedelta, optional
            How long the reply holds when it does not say so itself.
        stale_most : timedelta, optional
            The oldest kept reply that may do when the service fails; any, where not given.

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
        asked = {**(params or {}), **(body or {})}
        for attempt in range(ATTEMPTS):
            response, problem, wait = self._once(url, params, expiry, body)
            if response is not None:
                return self._good(url, asked, response)
            if wait is None or attempt == ATTEMPTS - 1:
                break
            # Uneven and growing, never shorter than what the service asked for.
            self.sleep(wait * (2**attempt) * (1 + 0.5 * self.luck.random()))
        kept = self._replies.kept(url, asked)
        if kept is None:
            raise WeatherUnavailable(f"{host} {problem}, and no earlier reply is kept.")
        if stale_most is not None and self.clock() - kept.fetched_at > stale_most:
            raise WeatherUnavailable(
                f"{host} {problem}, and the reply kept from {kept.fetched_at:%Y-%m-%d %H:%M} UTC is too old."
            )
        return replace(kept, stale=f"{host} {problem}")

    def _good(self, url: str, params: Mapping[str, str] | None, response: requests.Response) -> Reply:
        """Return a sound reply with the time at which the service said it."""
        payload = response.json()
        if getattr(response, "from_cache", False):
            before = self._replies.kept(url, params)
            if before is not None and before.payload == payload:
                return before
            made = getattr(response, "created_at", None) or self.clock()
            return Reply(payload, made if made.tzinfo is not None else made.replace(tzinfo=UTC))
        if response.status_code == 203:
            self._say(f"{urlsplit(url).hostname} announces the end of what is asked for there")
        reply = Reply(payload, self.clock())
        if trouble := self._replies.keep(url, params, reply):
            self._say(f"a reply could not be kept for bad days ({trouble})")
        return reply

    def _once(
        self,
        url: str,
        params: Mapping[str, str] | None,
        expiry: timedelta | None,
        body: Mapping[str, str] | None,
    ) -> tuple[requests.Response | None, str, float | None]:
        """Return a sound reply, or what is wrong and how long to wait (None: asking again is of no use)."""
        try:
            response = self.session().request(
                "GET" if body is None else "POST", url, params=params, json=body, headers={"User-Agent": self.user_agent, "Accept": "application/geo+json, application/json"},
                timeout=TIMEOUT_S, expire_after=expiry or DEFAULT_EXPIRY,
            )  # fmt: skip
        except HostResting as error:
            return None, str(error), None
        except requests.Timeout:
            return None, "did not answer in time", FIRST_WAIT_S
        except (requests.ConnectionError, requests.exceptions.ChunkedEncodingError,
                requests.exceptions.ContentDecodingError) as error:  # fmt: skip
            return None, f"cannot be reached ({type(error).__name__})", FIRST_WAIT_S
        except requests.RequestException as error:
            return None, f"cannot be asked ({type(error).__name__})", None
        except (sqlite3.Error, UnicodeDecodeError, ValueError) as error:
            self._without_cache(error)
            return None, "could not be asked because the cache file is of no use", 0.0
        if response.status_code in RETRIED:
            return self._busy(url, response)
        if response.status_code not in GOOD:
            return None, f"answered {response.status_code}", None
        if not is_json(response):
            return None, "answered something else than JSON", FIRST_WAIT_S
        return response, "", None

    def _busy(self, url: str, response: requests.Response) -> tuple[None, str, float | None]:
        problem = f"answered {response.status_code}"
        wait = self._asked_wait_s(response.headers.get("Retry-After", ""))
        if wait is None:
            return None, problem, TOO_MANY_WAIT_S if response.status_code == 429 else FIRST_WAIT_S
        if wait > LONGEST_WAIT_S:
            self._pace.rest(url, wait)
            return None, f"{problem} and wants no request for {wait:.0f} s", None
        return None, problem, max(FIRST_WAIT_S, wait)

    def _asked_wait_s(self, told: str) -> float | None:
        """Return how long a Retry-After asks to wait [s]; None when it says nothing that can be read."""
        try:
            wait = float(told)
        except ValueError:
            try:
                wait = (parsedate_to_datetime(told) - self.clock()).total_seconds()
            except (TypeError, ValueError):
                return None
        return max(0.0, wait) if wait == wait and wait != float("inf") else None

    def session(self) -> CachedSession:
        """Return the session, opened on first use."""
        if self._session is None:
            try:
                _probe(self.cache)
                self._session = self._open(self.cache)
                self._session.cache.contains("nothing")
            except (sqlite3.Error, OSError) as error:
                self._without_cache(error)
        if self._session is None:
            self._session = self._open(self.cache)
        return self._session

    def _open(self, cache: Path | None) -> CachedSession:
        # JSON, not pickles: a file that somebody else could write must never run as code.
        name, backend = ("memory", "memory") if cache is None else (str(cache), "sqlite")
        session = CachedSession(
            name, backend=backend, serializer=None if cache is None else "json", cache_control=True, allowable_codes=GOOD, allowable_methods=("GET", "POST"),
            filter_fn=is_json, expire_after=DEFAULT_EXPIRY, ignored_parameters=list(SECRET),
        )  # fmt: skip
        for scheme in ("https://", "http://"):
            session.mount(scheme, PacedAdapter(self._pace))
        return session

    def _without_cache(self, error: Exception) -> None:
        """Go on without a cache that cannot be used now; put a damaged one aside: what was in it is asked for again."""
        if self._session is not None:
            self._session.close()
            self._session = None
        if self.cache is None:
            return
        if isinstance(error, OSError | sqlite3.OperationalError) and any(
            word in str(error).lower() for word in PASSING
        ):
            self._say(
                f"the weather cache {self.cache.name} cannot be used now ({error}); it was done without"
            )
            self._session = self._open(None)
            return
        found = [
            path for end in ("", "-journal", "-wal", "-shm") if (path := Path(f"{self.cache}{end}")).exists()
        ]
        for path in found:
            path.replace(path.with_name(f"{path.name}.broken"))
        if found:
            self._say(
                f"the weather cache {self.cache.name} was damaged ({error}); it was set aside and begun anew"
            )

    def _say(self, note: str) -> None:
        if note not in self.notes:
            self.notes.append(note)


def _probe(cache: Path | None) -> None:
    """Raise what is wrong with a cache file that cannot be written: the library itself would wait for it for ever."""
    if cache is None:
        return
    with closing(sqlite3.connect(cache, timeout=BUSY_S, isolation_level=None)) as file:
        file.execute("BEGIN IMMEDIATE")
        file.execute("ROLLBACK")


def is_json(response: requests.Response) -> bool:
    """Return whether a body is JSON: error pages and broken streams come with status 200 as well."""
    if len(response.content) > BODY_MOST:
        return False
    try:
        json.loads(response.content)
    except (ValueError, UnicodeDecodeError, RecursionError):
        return False
    return True


def degrees(value: float) -> str:
    """Return degrees for an address: at most four decimals (more is refused or redirected), no zeros at the end."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


__all__ = ["PoliteClient", "Reply", "degrees"]
