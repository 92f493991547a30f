"""The databases that the storage suite runs against: a file, and a real PostgreSQL server where there is one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from adapters.storage.database import Database, open_database
from tests.adapters.storage.postgres import server


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """Address of a PostgreSQL server that lives as long as the tests."""
    with server() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def opener(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Database]]:
    """Return a function that opens one and the same database anew each time, as other programs would."""
    opened: list[Database] = []
    where: Path | str = tmp_path / "farm.sqlite"
    if request.param == "postgresql":
        where = request.getfixturevalue("postgres")

    def again() -> Database:
        opened.append(open_database(where, f"{tmp_path.name}-{request.node.name}", busy_timeout_s=3.0))
        return opened[-1]

    yield again
    for one in opened:
        one.close()
