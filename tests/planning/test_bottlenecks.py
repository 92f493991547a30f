"""What holds a season back: machines that are missing or busy, counted against hours that somebody could use.

By hand: a machine that is down for all days is missing in every fit hour of the working day, one that is never down in none.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from scheduler.events.situation import Span
from scheduler.planning.plan import Plan
from scheduler.planning.schedule import make_plan
from scheduler.solver.result import Limits
from shared.clock import Horizon
from tests.crew.builders import morning
from tests.service.farms import at


@lru_cache(maxsize=4)
def planned(until_day: int | None, machine: str = "sprayer") -> Plan:
    _, situation, outlook = morning()
    end = None if until_day is None else at(until_day, "00:00")
    down = {machine: (Span(at(10, "05:00"), end),)} if until_day != 10 else {}
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    return make_plan(
        replace(situation, machine_down=down), outlook, horizon, Limits(1.0, 1, 1), use_engine=False
    )


def missing(plan: Plan) -> tuple[int, int] | None:
    found = [re.search(r"Sprayer: not there in (\d+) of the (\d+) hours", line) for line in plan.binds]
    return next(((int(one[1]), int(one[2])) for one in found if one), None)


def test_a_machine_that_is_not_there_is_named_with_the_hours_it_misses() -> None:
    gone, whole = missing(planned(None)) or (0, 0)
    assert gone == whole > 0
    some, of = missing(planned(18)) or (0, 0)
    assert 0 < some < of == whole
    assert missing(planned(10)) is None


def test_machines_that_are_there_are_not_said_to_be_missing() -> None:
    for line in planned(None).binds:
        assert "not there" not in line or line.startswith("Sprayer:")


def test_work_behind_earlier_passes_is_no_cause_of_its_own() -> None:
    lines = [line for line in planned(None).binds if "Left out because" in line]
    assert any("earlier passes that come too late or not at all" in line for line in lines)
    assert not any("an earlier pass is not done" in line for line in lines)
