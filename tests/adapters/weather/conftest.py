"""A local server in place of the weather services."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.adapters.weather import fault_server as fake
from tests.adapters.weather.calls import answer_all
from tests.adapters.weather.fault_server import Service


@pytest.fixture
def service() -> Iterator[Service]:
    with fake.served() as found:
        answer_all(found)
        yield found
