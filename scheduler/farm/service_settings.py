"""What the farm file says of the service: where the log lives, when things happen, and where lists go."""

from __future__ import annotations

from datetime import time
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator
from pydantic import Field as Key

from scheduler.farm.quantities import Clock, Minutes, Record, fault


def _store_url(value: Any) -> Any:
    """A password in a file that is copied and mailed is no secret."""
    text = str(value)
    allowed = 'an address such as "postgresql://fitground@office.example/fields", the password in PGPASSWORD'
    if text and not text.startswith(("postgresql://", "postgresql+psycopg://")):
        raise fault("is no address of a PostgreSQL database", allowed)
    if "@" in text and ":" in text.split("://", 1)[1].split("@", 1)[0]:
        raise fault("holds a password", allowed)
    return text


class StoreSettings(Record):
    """Where the log and the plans are kept.

    Attributes
    ----------
    url : str
        A shared PostgreSQL database; empty for a SQLite file in the farm folder.
    name : str
        Name of the farm in a shared database; the folder's name when empty.
    """

    url: Annotated[str, BeforeValidator(_store_url)] = ""
    name: str = Key(default="", max_length=100)


class ServiceSettings(Record):
    """When the service does what (`fitground run`).

    Attributes
    ----------
    poll_minutes : float
        Between two looks at the forecast.
    quiet_minutes, wait_most_minutes : float
        News is planned in once it has been quiet for so long, at the latest so long after its first word.
    remind_at : time
        When the manager hears which of the day's jobs nobody has reported on.
    after_news : str
        ``issue``: a plan made after news goes out at once. ``draft``: it waits for a person.
    deadline_factor : float
        A search that takes so many times its seconds (and half a minute more) is ended; the simple rule's plan goes out.
    """

    poll_minutes: Minutes = Key(default=60.0)
    quiet_minutes: Minutes = Key(default=3.0)
    wait_most_minutes: Minutes = Key(default=15.0)
    remind_at: Clock = time(19, 30)
    after_news: Literal["issue", "draft"] = "issue"
    deadline_factor: float = Key(default=2.0, ge=1.0, le=20.0)


class OutletSettings(Record):
    """One way out for lists and plans; the outlet checks its own options.

    Attributes
    ----------
    kind : str
        ``folder``, ``mail``, ``webhook``, or a name that another package brings.
    people : tuple of str
        Only for these operators; ``all`` is the manager's morning page. Everybody when empty.
    """

    kind: str
    name: str = ""
    people: tuple[str, ...] = ()
    options: dict[str, Any] = Key(default_factory=dict)
