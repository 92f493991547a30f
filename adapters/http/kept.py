"""The last good reply of each question, kept for bad days: the cache itself forgets one when the next is no good."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

SECRET = ("apikey", "api_key", "key", "token")
"""Parameters that never reach the disk."""


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
class KeptReplies:
    """Replies in memory and, where a folder is given, on disk, one file a question."""

    folder: Path | None
    _good: dict[str, Reply] = field(default_factory=dict)

    def keep(self, url: str, params: Mapping[str, str] | None, reply: Reply) -> str:
        """Keep a reply; return what went wrong on disk, empty when nothing did."""
        key = _key(url, params)
        self._good[key] = reply
        if self.folder is None:
            return ""
        text = json.dumps({"at": reply.fetched_at.isoformat(), "payload": reply.payload})
        draft = self.folder / f"{key}.part"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            draft.write_text(text, encoding="utf-8")
            draft.replace(self.folder / f"{key}.json")
        except OSError as error:
            return str(error.strerror or error)
        return ""

    def kept(self, url: str, params: Mapping[str, str] | None) -> Reply | None:
        """Return the last good reply whatever its age; a file that cannot be read is none."""
        key = _key(url, params)
        if key in self._good or self.folder is None:
            return self._good.get(key)
        try:
            found = json.loads((self.folder / f"{key}.json").read_text(encoding="utf-8"))
            at = datetime.fromisoformat(found["at"])
            return Reply(found["payload"], at if at.tzinfo is not None else at.replace(tzinfo=UTC))
        except (OSError, ValueError, KeyError, TypeError):
            return None


def _key(url: str, params: Mapping[str, str] | None) -> str:
    """Return a name for what is asked; who asks is no part of it."""
    asked = {name: value for name, value in (params or {}).items() if name not in SECRET}
    return hashlib.sha256(json.dumps([url, asked], sort_keys=True).encode()).hexdigest()[:24]


__all__ = ["SECRET", "KeptReplies", "Reply"]
