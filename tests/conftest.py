"""Tests run beside each other, except those that hold a clock to the program.

Question answered: *who may run now?* Where pytest-xdist runs the suite in several processes, a test marked `clock` waits
until no other test runs, and no other begins before it is over; so a deadline is never missed because of a neighbour.
"""

from __future__ import annotations

import fcntl
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Run a test among others, or alone when it is marked `clock`."""
    worker = getattr(item.config, "workerinput", None)
    if worker is None:
        return (yield)
    place = Path(tempfile.gettempdir()) / f"fitground-tests-{worker['testrunuid']}"
    place.mkdir(exist_ok=True)
    alone = item.get_closest_marker("clock") is not None
    with (place / "door").open("w") as door, (place / "room").open("w") as room:
        # Everybody goes through the door; who wants the room alone holds the door until it is empty.
        fcntl.flock(door, fcntl.LOCK_EX)
        fcntl.flock(room, fcntl.LOCK_EX if alone else fcntl.LOCK_SH)
        fcntl.flock(door, fcntl.LOCK_UN)
        return (yield)
