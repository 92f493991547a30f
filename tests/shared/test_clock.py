"""Horizon minutes over a clock change: US daylight time began on 14 March 2027, 2 a.m. (Energy Policy Act of 2005)."""

from __future__ import annotations

from datetime import date, time

from shared.clock import Horizon


def test_the_day_of_the_spring_change_has_23_hours() -> None:
    horizon = Horizon(date(2027, 3, 13), 3, "America/Chicago")
    lengths = [end - start for start, end in (horizon.day_interval(k) for k in range(3))]
    assert lengths == [24 * 60, 23 * 60, 24 * 60]


def test_wall_clock_times_survive_the_change() -> None:
    horizon = Horizon(date(2027, 3, 13), 3, "America/Chicago")
    for offset in range(3):
        day = horizon.day(offset)
        moment = horizon.moment(horizon.minute_at(day, time(6, 30)))
        assert (moment.date(), moment.time()) == (day, time(6, 30))
