"""Quarter hours, shifts, hours worked and machines that are there.

Outside: US daylight saving time (15 US Code 260a: second Sunday of March, first of November); the rest is plain arithmetic.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.events.situation import Span
from scheduler.planning.calendars import hours_limit, machine_open, person_open
from scheduler.planning.quarters import Quarters
from scheduler.solver.rigday_calendar import without
from shared.clock import Horizon
from tests.planning import builders as make


def test_quarters_over_the_clock_changes():
    spring = Quarters(Horizon(date(2027, 3, 13), 3, make.ZONE))
    assert [b - a for a, b in spring.days] == [96, 92, 96]
    autumn = Quarters(Horizon(date(2027, 11, 6), 3, make.ZONE))
    assert [b - a for a, b in autumn.days] == [96, 100, 96]
    six = datetime.combine(date(2027, 3, 14), time(6), ZoneInfo(make.ZONE))
    assert spring.moment(spring.up(six)) == six
    assert spring.shift(date(2027, 3, 14), time(6), time(20)) == (96 + 20, 96 + 76)


@given(st.integers(-5000, 5000))
def test_rounding_up_and_down_encloses_the_moment(minutes: int):
    grid = Quarters(make.horizon())
    moment = make.at(0, "00:00") + timedelta(minutes=minutes, seconds=1)
    assert grid.moment(grid.down(moment)) <= moment <= grid.moment(grid.up(moment))
    assert grid.up(moment) - grid.down(moment) == 1


@given(
    st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), max_size=5),
    st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), max_size=5),
)
def test_cutting_holes_is_set_difference(spans: list[tuple[int, int]], gaps: list[tuple[int, int]]):
    spans = [(min(s), max(s)) for s in spans if s[0] != s[1]]
    holes = [(min(s), max(s)) for s in gaps]

    def cells(rows: list[tuple[int, int]]) -> set[int]:
        return {x for a, b in rows for x in range(a, b)}

    assert cells(without(spans, holes)) == cells(spans) - cells(holes)


def test_shifts_less_absences_days_off_and_the_past():
    farm = make.farm(1)
    ann = farm.operators[0].model_copy(update={"days_off": (make.FIRST_DAY + timedelta(days=2),)})
    away = {"ann": (Span(make.at(1, "09:10"), make.at(1, "11:50")),)}
    situation = make.situation(farm, make.at(0, "08:01"), operator_away=away)
    found = person_open(ann, situation, Quarters(make.horizon(4)))
    clocks = [tuple(f"{make.horizon().moment(q * 15):%a %H:%M}" for q in span) for span in found]
    assert clocks == [
        ("Mon 08:15", "Mon 20:00"), ("Tue 06:00", "Tue 09:00"), ("Tue 12:00", "Tue 20:00"), ("Thu 06:00", "Thu 20:00"),
    ]  # fmt: skip


def test_hours_already_worked_shorten_today_and_count_in_the_week():
    farm = make.farm(1)
    worked = {("ann", make.FIRST_DAY): 12 * 60.0, ("ann", make.FIRST_DAY - timedelta(days=1)): 300.0}
    situation = make.situation(farm, make.at(0, "15:00"), worked_minutes=worked)
    grid = Quarters(make.horizon(9))
    first = person_open(farm.operators[0], situation, grid)[0]
    assert first[1] - first[0] == 8
    limit = hours_limit(farm.operators[0], situation, grid)
    assert limit.weeks == (tuple(range(7)), (7, 8))
    assert limit.used_before == (48, 0)
    assert (limit.normal_per_day, limit.most_per_day, limit.most_per_week) == (40, 56, 280)
    assert limit.cost_per_minute == pytest.approx(625.0) and limit.overtime_per_minute == pytest.approx(937.5)


def test_a_machine_is_serviced_first_and_gone_while_down():
    farm = make.farm(1)
    situation = make.situation(farm, machine_down={"big": (Span(make.at(0, "12:00"), make.at(1, "09:00")),)})
    grid = Quarters(make.horizon(2))
    assert machine_open("big", situation, grid) == [(26, 48), (96 + 36, 96 + 80)]
