"""Forecasts held against what fell: how far to trust day 5.

Question answered: *on this farm, were the forecasts right?* In: forecasts as they were used, observed hours, past years. Out:
by lead day the bias of rain and warmth, the Brier score of the chance of rain (Brier 1950) beside that of the usual chance
of the season, and how often it rained when so much chance was given (reliability). One forecast a morning counts, the first;
days that a forecast or the observations do not cover whole are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from shared.clock import local_midnight
from shared.weather_records import DailyWeather, HourlyWeather

WET_MM = 1.0
"""A day with at least so much rain counts as wet (the wet day of the joint expert team on climate indices, from memory)."""
SEASON_DAYS = 10
"""Days before and after in each past year that make the usual chance."""
BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
LEADS_MOST = 15
LEAST_CASES = 5
"""Fewer days than this say nothing of a lead."""


@dataclass(frozen=True)
class LeadScore:
    """How forecasts of one lead did.

    Attributes
    ----------
    lead_days : int
        0 is the day of the forecast.
    cases : int
    said_mm, fell_mm, off_mm : float
        Mean rain of a day as forecast (mean of the members) and as it fell, and the mean size of the difference [mm].
    warmth_bias_c : float
        Mean of forecast less observed daily mean temperature [degC].
    brier, brier_usual : float
        Of the chance of a wet day, and of the usual chance of the season on the same days; 0 is perfect.
    """

    lead_days: int
    cases: int
    said_mm: float
    fell_mm: float
    off_mm: float
    warmth_bias_c: float
    brier: float
    brier_usual: float

    @property
    def bias_mm(self) -> float:
        """Rain forecast less rain that fell [mm/day]."""
        return self.said_mm - self.fell_mm

    @property
    def skill(self) -> float:
        """Share of the usual chance's Brier score that the forecast saves; 0 or less is of no use."""
        return 1.0 - self.brier / self.brier_usual if self.brier_usual > 0 else 0.0


@dataclass(frozen=True)
class ChanceBin:
    """Days to which a chance between two bounds was given, all leads up to a week."""

    low: float
    high: float
    cases: int
    said: float
    wet: float


@dataclass(frozen=True)
class Verification:
    """What came of forecasts.

    Attributes
    ----------
    useful_to : int or None
        Last lead day up to which every lead beats the usual chance; None when not even day 0 does or nothing is known.
    """

    source: str
    first_day: date | None
    last_day: date | None
    leads: tuple[LeadScore, ...]
    reliability: tuple[ChanceBin, ...]
    useful_to: int | None


@dataclass(frozen=True)
class _Case:
    day: date
    lead: int
    chance: float
    said_mm: float
    fell_mm: float
    warmth_off_c: float


def verify(
    forecasts: Iterable[tuple[datetime, HourlyWeather]],
    observed: HourlyWeather,
    normals: DailyWeather,
    zone: ZoneInfo,
    source: str = "",
) -> Verification:
    """Return how forecasts did.

    Parameters
    ----------
    forecasts : iterable of (datetime, HourlyWeather)
        When each was fetched, and its members.
    observed : HourlyWeather
        What was measured; one member.
    normals : DailyWeather
        Past years, for the usual chance.
    """
    fell = {day: values for day, values in _days(observed, zone)}
    cases = []
    for day, forecast in _one_a_morning(forecasts, zone):
        for ahead, (rain, temp) in _days(forecast, zone):
            lead = (ahead - day).days
            if 0 <= lead <= LEADS_MOST and ahead in fell:
                rain_fell, temp_was = fell[ahead]
                cases.append(
                    _Case(
                        ahead, lead, float(np.mean(rain >= WET_MM)), float(rain.mean()), float(rain_fell[0]),
                        float(temp.mean() - temp_was[0]),
                    )
                )  # fmt: skip
    days = [case.day for case in cases]
    leads = tuple(
        _score([c for c in cases if c.lead == lead], lead, normals) for lead in range(LEADS_MOST + 1)
    )
    known = tuple(lead for lead in leads if lead.cases >= LEAST_CASES)
    return Verification(
        source, min(days, default=None), max(days, default=None), known, _reliability(cases), _useful(known)
    )  # fmt: skip


def _one_a_morning(
    forecasts: Iterable[tuple[datetime, HourlyWeather]], zone: ZoneInfo
) -> Sequence[tuple[date, HourlyWeather]]:
    first: dict[date, HourlyWeather] = {}
    for fetched, forecast in sorted(forecasts, key=lambda row: row[0]):
        first.setdefault(fetched.astimezone(zone).date(), forecast)
    return list(first.items())


def _days(
    weather: HourlyWeather, zone: ZoneInfo
) -> Iterable[tuple[date, tuple[NDArray[np.float64], NDArray[np.float64]]]]:
    """Yield each local day that is covered whole, with rain [mm] and mean temperature [degC] by member."""
    day = weather.start_utc.astimezone(zone).date()
    while local_midnight(day + timedelta(days=1), zone) <= weather.end_utc:
        a = weather.hour_index(local_midnight(day, zone))
        b = weather.hour_index(local_midnight(day + timedelta(days=1), zone))
        if a >= 0 and np.isfinite(weather.rain_mm[:, a:b]).all():
            yield day, (weather.rain_mm[:, a:b].sum(axis=1), weather.temp_c[:, a:b].mean(axis=1))
        day += timedelta(days=1)


def _score(cases: list[_Case], lead: int, normals: DailyWeather) -> LeadScore:
    if not cases:
        return LeadScore(lead, 0, *[float("nan")] * 6)
    said, fell, warmth, chance = (
        np.array([getattr(case, name) for case in cases]) for name in ("said_mm", "fell_mm", "warmth_off_c", "chance")
    )  # fmt: skip
    wet = fell >= WET_MM
    usual = np.array([usual_chance(normals, case.day) for case in cases])
    return LeadScore(
        lead, len(cases), float(said.mean()), float(fell.mean()), float(np.abs(said - fell).mean()), float(warmth.mean()),
        brier_score(wet, chance), brier_score(wet, usual),
    )  # fmt: skip


def brier_score(happened: NDArray[np.bool_], chance: NDArray[np.float64]) -> float:
    """Return the mean squared difference between chance and what happened (Brier 1950, in its usual half form)."""
    return float(np.mean((chance - happened) ** 2))


def usual_chance(normals: DailyWeather, day: date) -> float:
    """Return the share of wet days around a day of the year in past years."""
    near = [
        rain >= WET_MM
        for past, rain in zip(normals.dates(), normals.rain_mm[0], strict=True)
        if _apart(past, day) <= SEASON_DAYS and past.year != day.year and np.isfinite(rain)
    ]
    return float(np.mean(near)) if near else 0.5


def _apart(one: date, other: date) -> int:
    """Return how many days of the year lie between two dates, the years left aside."""
    days = abs(one.timetuple().tm_yday - other.timetuple().tm_yday)
    return min(days, 365 - days)


def _reliability(cases: list[_Case]) -> tuple[ChanceBin, ...]:
    week = [case for case in cases if case.lead < 7]
    out = []
    for low, high in pairwise(BINS):
        inside = [c for c in week if low <= c.chance < high or (high == 1.0 and c.chance == 1.0)]
        if inside:
            wet = float(np.mean([case.fell_mm >= WET_MM for case in inside]))
            out.append(ChanceBin(low, high, len(inside), float(np.mean([c.chance for c in inside])), wet))
    return tuple(out)


def _useful(leads: tuple[LeadScore, ...]) -> int | None:
    found = None
    for lead in leads:
        if lead.skill <= 0:
            break
        found = lead.lead_days
    return found
