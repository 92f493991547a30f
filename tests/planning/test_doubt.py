"""Doubtful hours in three ways of counting, each worked out by hand.

Outside: plain arithmetic on the invented losses of `builders.window_of` (banding: 6 per hectare and day from the second
day on). That a mean over sampled weathers, each with its own recourse, is the cost of a first decision is the sample
average approximation (Kleywegt, Shapiro and Homem-de-Mello 2002, SIAM Journal on Optimization 12(2); from memory).
"""

from __future__ import annotations

import pytest

from scheduler.planning.doubt import WEEK_D, Doubt, Stretch
from scheduler.planning.jobs import Job, RigOption, remaining_jobs
from scheduler.planning.quarters import Quarters
from tests.planning import builders as make

DAYS = 5
AREA_HA = 20.0
DAY_LOSS = make.LOSS_PER_HA_DAY["band"] * AREA_HA
QUARTER_LOST = 80 * 100 / 4
"""Cents of a quarter hour that turns out unfit, by the farm's own `lost_hour_cost`."""
WORK_QUARTERS = 20


def stretches(by: str, odds: dict[tuple[int, int], float], share: float = 1.0) -> list[Stretch]:
    """Return the stretches of one banding, 20 quarter hours long, whose odds by day and hour are given."""
    farm = make.farm(1, plan=make.farm(1).plan.model_copy(update={"risk_by": by}))
    outlook = make.outlook(farm, DAYS, chance=lambda field, spec, day, hour: odds.get((day, hour), 0.0))
    job = next(j for j in remaining_jobs(make.situation(farm), outlook) if j.spec.id == "band")
    assert job.field.area_ha == AREA_HA
    option = RigOption(job.options[0].rig, WORK_QUARTERS * 15.0, 0.0)
    job = Job(job.field, job.spec, job.state, AREA_HA * share, (option,))
    return Doubt(outlook, farm.plan, Quarters(make.horizon(DAYS))).stretches(job, option, list(range(DAYS)))


def hours(day: int, first: int, end: int, chance: float) -> dict[tuple[int, int], float]:
    return {(day, hour): chance for hour in range(first, end)}


def risks(found: list[Stretch]) -> list[float]:
    assert len(found) == 1 and found[0].factor == 1.0
    return [window.risk_per_minute for window in found[0].windows]


def test_by_hours_a_doubtful_hour_costs_its_chance_of_being_lost():
    found = stretches("hours", hours(1, 10, 14, 0.6) | hours(3, 10, 14, 1.0))
    assert risks(found) == pytest.approx([0.4 * QUARTER_LOST, 0.0])


def test_by_members_each_weather_makes_up_on_its_own_next_fit_day():
    # Weathers 6 to 9 of 10 lose day 1. Day 2 is fit in 0 to 2 alone, so those four come on day 3: two days' loss.
    found = stretches("members", hours(1, 10, 14, 0.6) | hours(2, 10, 14, 0.3) | hours(3, 10, 14, 1.0))
    later = 0.4 * 2 * DAY_LOSS * 100 / WORK_QUARTERS
    assert risks(found) == pytest.approx([0.4 * QUARTER_LOST + later, 0.0])
    # Day 2 fit in all: they lose one day.
    found = stretches("members", hours(1, 10, 14, 0.6) | hours(2, 10, 14, 1.0))
    assert risks(found) == pytest.approx([0.4 * QUARTER_LOST + later / 2, 0.0])


def test_too_few_fit_hours_make_up_for_nothing():
    found = stretches("members", hours(1, 10, 14, 0.6) | hours(2, 10, 13, 1.0) | hours(3, 10, 14, 1.0))
    later = 0.4 * 2 * DAY_LOSS * 100 / WORK_QUARTERS
    assert risks(found)[0] == pytest.approx(0.4 * QUARTER_LOST + later)


def test_with_no_fit_day_left_it_comes_a_week_behind_the_horizon():
    found = stretches("members", hours(1, 10, 14, 0.6))
    later = 0.4 * (DAYS - 1 + WEEK_D - 1) * DAY_LOSS * 100 / WORK_QUARTERS
    assert risks(found) == pytest.approx([0.4 * QUARTER_LOST + later])


def test_half_a_field_left_loses_half():
    whole = stretches("members", hours(1, 10, 14, 0.6) | hours(2, 10, 14, 1.0))
    half = stretches("members", hours(1, 10, 14, 0.6) | hours(2, 10, 14, 1.0), share=0.5)
    base = 0.4 * QUARTER_LOST
    assert risks(half)[0] - base == pytest.approx((risks(whole)[0] - base) / 2)


def test_stretched_work_takes_as_much_longer_as_the_odds_say_and_has_no_other_price():
    found = stretches("stretched", hours(1, 7, 9, 1.0) | hours(1, 12, 14, 0.6) | hours(2, 12, 14, 0.8))
    assert [one.factor for one in found] == pytest.approx([1.0, 1 / 0.8, 1 / 0.6])
    assert all(window.risk_per_minute == 0 for one in found for window in one.windows)
    assert [len(one.windows) for one in found] == [1, 1, 1]


def test_members_is_what_a_farm_plans_by_unless_it_says_otherwise():
    assert type(make.farm(1).plan)().risk_by == "members"
