"""Odds over members and over the doubt in the limit: of hours, of several hours together, and of members that stand for both.

Expected values are worked out by hand: the doubt in the limit is one quantity for all hours, so the odds that several are fit
are, in each weather, those of the worst.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.windows.records import FitHours


def of(*members: list[int]) -> FitHours:
    """Return hours of the given odds by member [%]."""
    odds = np.array(members, np.uint8)
    return FitHours(odds.mean(axis=0) / 100, odds, np.zeros(odds.shape[1], int), np.zeros(odds.shape[1]))


def test_hours_near_the_limit_in_every_weather_are_doubtful_together_not_impossible() -> None:
    """Four weathers at 45 % for five hours: with the central limit no member would be fit, yet in 45 of 100 cases all are."""
    assert of(*[[45] * 5] * 4).together(0, 5) == pytest.approx(0.45)


def test_the_worst_hour_of_each_weather_counts() -> None:
    # Worst hours: 20 and 50 %; the mean of these.
    assert of([80, 20, 90], [50, 90, 60]).together(0, 3) == pytest.approx(0.35)
    assert of([80, 20, 90], [50, 90, 60]).together(2, 3) == pytest.approx(0.75)


def test_one_weather_alone_has_the_central_limit() -> None:
    assert of([49, 50, 51]).fit.tolist() == [[False, True, True]]


@given(st.integers(1, 60), st.integers(0, 100))
def test_members_share_out_the_doubt_in_the_limit_evenly(members: int, odds: int) -> None:
    found = of(*[[odds, 100, 0]] * members).fit.mean(axis=0)
    assert abs(found[0] - odds / 100) <= 0.5 / members + 1e-9
    assert (found[1], found[2]) == (1.0, 0.0)


@given(st.lists(st.lists(st.integers(0, 100), min_size=6, max_size=6), min_size=1, max_size=20))
def test_together_is_no_likelier_than_any_of_the_hours_and_a_member_that_can_in_the_worst_can_in_all(
    rows: list[list[int]],
) -> None:
    hours = of(*rows)
    assert hours.together(0, 6) <= hours.chance.min() + 1e-9
    assert hours.together(0, 6) <= hours.together(1, 4) + 1e-9
    worst = np.argmin(hours.odds_pct, axis=1)
    assert (hours.fit.all(axis=1) == hours.fit[np.arange(len(rows)), worst]).all()
