"""Who may come in: one manager with a password, crew links that expire and can be revoked, and no forged forms.

The password is kept as an Argon2id hash (RFC 9106) in the store; sessions and links are signed with a secret that the store
keeps. A new password ends every session; a new link for a person ends the older ones.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError
from itsdangerous import BadSignature, URLSafeTimedSerializer

from shared.errors import FitgroundError
from shared.ports import ServiceBook

SESSION_S = 14 * 86400
LINK_S = 150 * 86400
"""A crew link lasts a season."""
PASSWORD_LEAST = 10
SECRET, PASSWORD, SERIAL = "pages: secret", "pages: password", "pages: serial of "
MANAGER = "manager"


class Door:
    """Sessions, links and form tokens of one farm."""

    def __init__(self, book: ServiceBook) -> None:
        self._book, self._hasher = book, PasswordHasher()
        if not book.mark(SECRET):
            book.set_mark(SECRET, secrets.token_urlsafe(48))
        self._secret = book.mark(SECRET)

    @property
    def has_password(self) -> bool:
        """Whether a manager's password was set."""
        return bool(self._book.mark(PASSWORD))

    def set_password(self, password: str) -> None:
        """Set the manager's password; every session ends.

        Raises
        ------
        FitgroundError
            It is too short.
        """
        if len(password) < PASSWORD_LEAST:
            raise FitgroundError(
                f"a password of {len(password)} characters is too short; allowed: {PASSWORD_LEAST} or more."
            )
        if len(password) > 200:
            raise FitgroundError("a password of more than 200 characters is too long.")
        self._book.set_mark(PASSWORD, self._hasher.hash(password))
        self._bump(MANAGER)

    def password_is(self, password: str) -> bool:
        """Return whether a password is the manager's."""
        kept = self._book.mark(PASSWORD)
        try:
            return bool(kept) and len(password) <= 200 and self._hasher.verify(kept, password)
        except (Argon2Error, InvalidHashError):
            return False

    def session(self) -> str:
        """Return a new session's ticket."""
        return self._sign("session").dumps([MANAGER, self._serial(MANAGER), secrets.token_urlsafe(12)])

    def session_holds(self, ticket: str) -> bool:
        """Return whether a session's ticket is sound and not ended."""
        said = self._read("session", ticket, SESSION_S)
        return isinstance(said, list) and said[:2] == [MANAGER, self._serial(MANAGER)]

    def form_token(self, ticket: str) -> str:
        """Return what every form of a session must carry."""
        return hmac.new(self._secret.encode(), b"form:" + ticket.encode(), hashlib.sha256).hexdigest()

    def form_is_ours(self, ticket: str, token: str) -> bool:
        """Return whether a form carries the token of its session."""
        return bool(token) and hmac.compare_digest(self.form_token(ticket), token)

    def link(self, person: str) -> str:
        """Return a person's link; the same serial as before, so that older links go on working."""
        return self._sign("crew").dumps([person, self._serial(person)])

    def revoke(self, person: str) -> None:
        """End every link of a person."""
        self._bump(person)

    def who(self, link: str) -> str | None:
        """Return whose link it is; None when it is forged, over or revoked."""
        said = self._read("crew", link, LINK_S)
        if isinstance(said, list) and len(said) == 2 and said[1] == self._serial(str(said[0])):
            return str(said[0])
        return None

    def _sign(self, what: str) -> URLSafeTimedSerializer:
        return URLSafeTimedSerializer(
            self._secret, salt=f"fitground {what}", signer_kwargs={"digest_method": hashlib.sha256}
        )

    def _read(self, what: str, text: str, lasts_s: int) -> object:
        try:
            return self._sign(what).loads(text, max_age=lasts_s)
        except BadSignature:
            return None

    def _serial(self, who: str) -> str:
        return self._book.mark(SERIAL + who) or "1"

    def _bump(self, who: str) -> None:
        self._book.set_mark(SERIAL + who, secrets.token_hex(4))


@dataclass
class Pace:
    """So many requests within so many seconds from one source, no more."""

    most: int
    within_s: float
    clock: Callable[[], float] = time.monotonic
    _seen: dict[str, deque[float]] = field(default_factory=lambda: defaultdict(deque))

    def lets_in(self, who: str) -> bool:
        """Count a request; return whether it is within the pace."""
        now, seen = self.clock(), self._seen[who]
        while seen and now - seen[0] > self.within_s:
            seen.popleft()
        if len(seen) >= self.most:
            return False
        seen.append(now)
        if len(self._seen) > 10_000:
            self._seen.clear()
        return True
