"""Writers of one program take turns, in the order they came.

SQLite lets whoever happens to ask next write; of fifty phones that report at once, one may ask in vain for as long as
anybody has patience, and its report would be refused. Within a program nobody need be unlucky: writers queue here, and
only the first in the queue asks the database, where the writers of other programs stand.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic
from weakref import WeakValueDictionary

from shared.errors import EventLogError

LONGEST_TURNS = 12
"""A minute at the usual patience: whoever reports waits no longer (common practice, no source)."""


class Turns:
    """The queue of the writers of one database within this program."""

    def __init__(self) -> None:
        self._queue: deque[object] = deque()
        self._mine = threading.local()
        self._moved = threading.Condition()

    @contextmanager
    def turn(self, name: str, patience_s: float) -> Iterator[None]:
        """Wait for a turn, and give it on afterwards; within a turn of one's own there is nothing to wait for.

        Parameters
        ----------
        name : str
            What sentences call the database.
        patience_s : float
            How long the queue may stand still [s]. As long as it moves, waiting is worth it, up to `LONGEST_TURNS` times
            as long.

        Raises
        ------
        EventLogError
            The queue stood still, or was too long.
        """
        if getattr(self._mine, "turn", False):
            yield
            return
        me = object()
        with self._moved:
            self._queue.append(me)
            try:
                self._wait(me, name, patience_s)
            except BaseException:
                self._leave(me)
                raise
        self._mine.turn = True
        try:
            yield
        finally:
            self._mine.turn = False
            with self._moved:
                self._leave(me)

    def _wait(self, me: object, name: str, patience_s: float) -> None:
        until = monotonic() + LONGEST_TURNS * patience_s
        while self._queue[0] is not me:
            at_work = self._queue[0]
            left_s = min(patience_s, until - monotonic())
            if not self._moved.wait_for(lambda at=at_work: self._queue[0] is not at, left_s):  # type: ignore[misc]
                raise locked(name)

    def _leave(self, me: object) -> None:
        self._queue.remove(me)
        self._moved.notify_all()


def turns_of(key: str) -> Turns:
    """Return the queue of a database, the same one for everybody in this program who has it open."""
    with _guard:
        return _known.setdefault(key, Turns())


def locked(name: str) -> EventLogError:
    """Return what a writer is told who waited in vain."""
    return EventLogError(f"{name} is locked by another program; nothing was stored, try again.")


_guard = threading.Lock()
_known: WeakValueDictionary[str, Turns] = WeakValueDictionary()
