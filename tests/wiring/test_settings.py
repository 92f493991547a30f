"""Settings of plans that news changed hold from then on, wherever plans are made."""

from __future__ import annotations

import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from scheduler.wiring import mornings
from scheduler.wiring.mornings import look_ahead, plan_morning
from scheduler.wiring.news import settings_now, take_report
from scheduler.wiring.whatif import what_if_morning
from scheduler.wiring.workspace import open_with_weather

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "closing-window"
NOW = datetime.fromisoformat("2027-06-07T05:00:00-05:00")


class Stopped(Exception):
    """The search was asked for."""


def test_days_and_seconds_of_a_plan_are_those_that_were_told_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(SCENARIO, tmp_path / "farm", ignore=shutil.ignore_patterns("*.sqlite*"))
    workspace = open_with_weather(tmp_path / "farm")
    before = workspace.farm.plan
    told = NOW - timedelta(minutes=30)
    take_report(workspace, ["change", "plan", "seconds", "3", "seed", "11", "horizon_days", "7"], {}, told)
    assert (settings_now(workspace, NOW).seconds, before.seconds != 3) == (3.0, True)
    assert look_ahead(workspace, NOW)[1].days == 7 != before.horizon_days
    assert look_ahead(workspace, told - timedelta(hours=1))[1].days == before.horizon_days
    asked: list[Any] = []

    def stop(*args: Any) -> None:
        asked.extend(args)
        raise Stopped

    monkeypatch.setattr(mornings, "make_plan", stop)
    with pytest.raises(Stopped):
        plan_morning(workspace, NOW)
    assert (asked[3].seconds, asked[3].seed, asked[2].days) == (3.0, 11, 7)
    assert what_if_morning(workspace, NOW, 1.0).horizon.days == 7
    workspace.database.close()
