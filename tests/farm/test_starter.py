"""The farm of `fitground init`: what depends on how large it is. No outside source: our own stand-in numbers."""

from __future__ import annotations

import tomllib
from datetime import date

import pytest

from scheduler.farm.starter import OwnFarm, OwnField, starter_farm, thinking_s


@pytest.mark.parametrize(("fields", "seconds"), [(0, 10), (4, 10), (40, 10), (100, 30), (200, 60), (600, 60)])
def test_larger_farms_are_thought_about_longer(fields: int, seconds: int) -> None:
    assert thinking_s(fields) == seconds


def test_the_farm_file_says_how_long() -> None:
    fields = tuple(OwnField(f"f{k}", f"F {k}", 30.0, 42.0, -93.0, {"crop": "corn"}) for k in range(100))
    own = OwnFarm(fields, 42.0, -93.0, "America/Chicago", 250.0, "us", {"crop": "corn"}, "")
    assert tomllib.loads(starter_farm("Ours", date(2027, 5, 10), own)["farm.toml"])["plan"]["seconds"] == 30
    assert tomllib.loads(starter_farm("Ours", date(2027, 5, 10), None)["farm.toml"])["plan"]["seconds"] == 10
