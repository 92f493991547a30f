"""A farm with an issued plan, made once and copied for each test; a site over it, and somebody signed in."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from scheduler.web.app import make_app
from scheduler.wiring.mornings import issue, plan_morning
from scheduler.wiring.office import Office
from scheduler.wiring.workspace import open_farm
from tests.service.farms import at, wet_week

PASSWORD = "ten letters or more"
NOW = at(10, "05:05")


@pytest.fixture(scope="session")
def planned_farm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wet week with Monday's plan issued."""
    folder = wet_week(tmp_path_factory.mktemp("web"))
    space = open_farm(folder)
    issue(space, plan_morning(space, NOW, 1.0))
    space.database.close()
    return folder


class Clock:
    """A clock that tests move."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    """Monday, five past five."""
    return Clock(NOW)


@pytest.fixture
def office(planned_farm: Path, tmp_path: Path, clock: Clock) -> Iterator[Office]:
    """The farm as pages see it."""
    folder = tmp_path / "farm"
    shutil.copytree(planned_farm, folder)
    found = Office(folder, clock, 1.0)
    yield found
    found.workspace.database.close()


@pytest.fixture
def visitor(office: Office) -> Iterator[TestClient]:
    """Somebody who never signed in."""
    with TestClient(make_app(office), raise_server_exceptions=False) as client:
        yield client


@pytest.fixture
def manager(visitor: TestClient) -> TestClient:
    """The manager, signed in on the first visit."""
    # Not sent on: the first page takes longer than the rest of many a test.
    answer = visitor.post("/welcome", data={"password": PASSWORD, "again": PASSWORD}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    return visitor
