"""The stored envelope of an event: what the log keeps, whatever the kind."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class EventRecord:
    """One event as it lies in the log.

    Attributes
    ----------
    id : str
        Made by the sender, so that a re-send counts once.
    kind : str
        A value of `shared.vocabulary.EventKind`.
    version : int
        Version of the body's shape.
    happened_at, recorded_at : datetime
        When it happened and when it was written down; aware, UTC in the log.
    by, source : str
        Who said it, and where from (``command line``, ``page``, ``weather``, ``import``, ``planner``).
    body : mapping
        JSON-ready values in SI; its shape belongs to the kind.
    sequence : int
        Place in the log, from 1; 0 before it is stored.
    """

    id: str
    kind: str
    happened_at: datetime
    recorded_at: datetime
    body: dict[str, Any] = field(default_factory=dict)
    by: str = ""
    source: str = ""
    version: int = 1
    sequence: int = 0
