"""What is due: daily duties over midnight, sleep, daylight saving and clocks that jump; news that comes in heaps."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduler.service.duties import Quiet, daily_due, poll_due

ZONE = ZoneInfo("America/Chicago")
FIVE = time(5, 0)


def local(text: str, fold: int = 0) -> datetime:
    """Return a farm-local moment."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE, fold=fold)


def issued_on(start: datetime, minutes: int, at: time, skip: range = range(0)) -> list[str]:
    """Look every minute (but for those asleep) and return the local times at which the duty was done."""
    done, out = "", []
    for k in range(minutes):
        now = start.astimezone(UTC) + timedelta(minutes=k)
        if k not in skip and daily_due(now, at, done, ZONE):
            wall = now.astimezone(ZONE)
            done = wall.date().isoformat()
            out.append(f"{wall:%d %H:%M}")
    return out


def test_once_a_day_at_its_time() -> None:
    assert issued_on(local("2027-05-10T04:00"), 3 * 1440, FIVE) == ["10 05:00", "11 05:00", "12 05:00"]


def test_a_lid_closed_overnight_issues_once_on_waking_and_never_for_days_that_are_over() -> None:
    asleep = range(60, 60 + 3 * 1440 + 200)
    assert issued_on(local("2027-05-10T04:30"), 5 * 1440, FIVE, asleep) == [
        "10 05:00",
        "13 08:50",
        "14 05:00",
    ]


@pytest.mark.parametrize("at", [time(1, 30), time(2, 30), FIVE])
def test_the_day_without_two_o_clock_and_the_day_with_two_of_one_o_clock(at: time) -> None:
    """14 March and 7 November 2027: the United States' days of change (second Sunday of March, first of November)."""
    for first, days in (("2027-03-13T00:00", ["13", "14", "15"]), ("2027-11-06T00:00", ["06", "07", "08"])):
        found = issued_on(local(first), 3 * 1440 - 61, at)
        assert [text[:2] for text in found] == days
        if (at, first) == (time(2, 30), "2027-03-13T00:00"):
            assert found[1] == "14 03:00"


def test_a_clock_put_back_does_nothing_twice_and_one_put_far_back_is_believed() -> None:
    now = local("2027-05-10T05:10")
    assert not daily_due(now, FIVE, "2027-05-10", ZONE)
    assert not daily_due(now - timedelta(hours=6), FIVE, "2027-05-10", ZONE)
    assert not daily_due(now, FIVE, "2027-05-11", ZONE)
    # A year ahead was a wrong clock: the farm must not stand without a plan for a year.
    assert daily_due(now, FIVE, "2028-05-10", ZONE)


def test_polls_keep_their_distance_whatever_the_clock_does() -> None:
    now, hour = local("2027-05-10T05:10"), timedelta(hours=1)
    assert poll_due(now, None, hour)
    assert not poll_due(now, now - timedelta(minutes=59), hour)
    assert poll_due(now, now - hour, hour)
    assert poll_due(now, now + timedelta(days=9), hour)


def planned_at(arrivals: list[int], minutes: int = 60) -> list[int]:
    """Return the minutes at which news is planned in: quiet of 3, at the latest after 15."""
    quiet, out, start, planned = Quiet(), [], local("2027-05-10T12:00"), 0
    for k in range(minutes):
        end = sum(arrival <= k for arrival in arrivals)
        quiet.look(start + timedelta(minutes=k), end, end > planned)
        if quiet.due(start + timedelta(minutes=k), timedelta(minutes=3), timedelta(minutes=15)):
            out.append(k)
            planned = end
            quiet.look(start + timedelta(minutes=k), end, False)
    return out


def test_ten_reports_at_noon_make_one_plan() -> None:
    assert planned_at([0, 0, 0, 1, 1, 2, 2, 2, 3, 3]) == [6]


def test_a_crew_that_never_stops_reporting_is_planned_in_all_the_same() -> None:
    assert planned_at(list(range(0, 40))) == [15, 31, 42]


def test_one_report_waits_for_the_quiet_only() -> None:
    assert planned_at([10]) == [13]


def test_a_clock_put_back_five_hours_makes_nobody_wait() -> None:
    quiet, now = Quiet(), local("2027-05-10T12:00")
    quiet.look(now, 1, True)
    back = now - timedelta(hours=5)
    quiet.look(back, 1, True)
    assert not quiet.due(back, timedelta(minutes=3), timedelta(minutes=15))
    quiet.look(back + timedelta(minutes=3), 1, True)
    assert quiet.due(back + timedelta(minutes=3), timedelta(minutes=3), timedelta(minutes=15))
