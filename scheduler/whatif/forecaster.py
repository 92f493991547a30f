"""Forecasts for a spring that was made up: what a planner could have known, with a stated skill, never the truth.

Question answered: *what would the forecast have said that morning?* A forecast has a centre: the true weather up to some
day ahead, then that of another year. Each member follows the centre up to a day of its own, then goes on with yet
another year. Both days are drawn with the same odds of still following at lead day k,

    q(k) = exp(-k / skill_days),

so that the share of members with rain is the chance of rain, given the centre: forecasts are reliable (what is called
60 % happens in 60 % of cases), and know less the further they look. Today is known best, but not surely.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from shared.weather_records import HOURLY_QUANTITIES, HourlyWeather

SKILL_DAYS = 5.0
"""At 5 the centre is true on the first day with 90 %, on the fifth with 41 %, on the tenth with 15 % (assumption)."""
DAY_H = 24


@dataclass(frozen=True)
class Pool:
    """Hourly weather of a whole season for many years on one grid; one of them is the truth."""

    weather: HourlyWeather
    truth: int


def follow_chance(lead_day: NDArray[np.float64], skill_days: float) -> NDArray[np.float64]:
    """Return the chance of still following at a lead day (0: the first 24 hours, taken at their middle)."""
    return np.exp(-(lead_day + 0.5) / skill_days)


def switch_days(count: int, days: int, skill_days: float, rng: np.random.Generator) -> NDArray[np.int_]:
    """Return the lead days up to which each of `count` paths follows (0: not at all)."""
    keep = follow_chance(np.arange(days, dtype=float), skill_days)
    return (rng.random(count)[:, None] < keep[None, :]).sum(axis=1)


def forecast_of(
    pool: Pool, now: datetime, days: int, members: int, skill_days: float, rng: np.random.Generator
) -> HourlyWeather:
    """Return the forecast of a morning.

    Parameters
    ----------
    now : datetime
        Issued then; the first hour is the running one.
    days : int
        24-hour days ahead, fewer where the season ends.
    members : int
    skill_days : float
        See the module.
    """
    first = pool.weather.hour_index(now)
    hours = min(days * DAY_H, pool.weather.hours - first)
    whole = -(-hours // DAY_H)
    years = np.delete(np.arange(pool.weather.members), pool.truth)
    centre = np.full(whole, rng.choice(years))
    centre[: int(switch_days(1, whole, skill_days, rng)[0])] = pool.truth
    own = rng.choice(years, members)
    leads = np.arange(whole)[None, :]
    follows = leads < switch_days(members, whole, skill_days, rng)[:, None]
    source = np.where(follows, centre[None, :], own[:, None])
    by_hour = np.repeat(source, DAY_H, axis=1)[:, :hours]
    at = first + np.arange(hours)
    parts = {name: getattr(pool.weather, name)[by_hour, at[None, :]] for name in HOURLY_QUANTITIES}
    start = pool.weather.start_utc + timedelta(hours=first)
    return HourlyWeather(start, source="made forecast", issued_at=now, **parts)


def seen(pool: Pool, before: HourlyWeather, now: datetime) -> HourlyWeather:
    """Return what was observed up to now: the real hours before the season, then the true ones of it."""
    truth = pool.weather.between(pool.weather.start_utc, now)
    row = slice(pool.truth, pool.truth + 1)
    parts = {name: getattr(truth, name)[row] for name in HOURLY_QUANTITIES}
    known = HourlyWeather(truth.start_utc, source="made weather", **parts)
    return before.followed_by(known) if known.hours else before


def true_hours(pool: Pool, now: datetime, hours: int) -> HourlyWeather:
    """Return the true weather of the coming hours, as a forecast of one member that nobody may plan with."""
    ahead = pool.weather.between(now, now + timedelta(hours=hours))
    row = slice(pool.truth, pool.truth + 1)
    parts = {name: getattr(ahead, name)[row] for name in HOURLY_QUANTITIES}
    return HourlyWeather(ahead.start_utc, source="truth", issued_at=now, **parts)
