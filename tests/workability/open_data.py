"""The open data as arrays, and the simple rules that a model of suitable days has to beat.

Sources and traps of the files: SOURCES.md beside them. The baselines are those that were measured before
the model was built: climatology by date, last week persists, dry days, the best rain rule, an
antecedent-rain index through a logistic, a regression on the week's weather, one layer with a soft limit, and two
layers with one hard limit.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.workability.district import HANDBOOK
from scheduler.workability.workdays import judge_district
from shared.weather_records import DailyWeather, Place
from tests.data_paths import open_data

Floats = NDArray[np.float64]
LAST_FITTED_YEAR = 2004
AMES = Place(42.0, -93.6, 300.0)


def ames(first: str = "1986-01-01", last: str = "2012-12-31") -> DailyWeather:
    """Daily weather of Ames, Iowa."""
    with open(open_data("ames_daily_1980_2019.csv"), encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if first <= row["date"] <= last]
    rain, tmax, tmin, light = (
        np.array([[float(row[name]) for row in rows]]) for name in ("rain", "maxt", "mint", "radn")
    )
    return DailyWeather(date.fromisoformat(rows[0]["date"]), rain, tmax, tmin, solar_mj_m2=light)


@dataclass(frozen=True)
class Weeks:
    """Weekly reports of central Iowa."""

    endings: list[date]
    told: Floats

    @property
    def spring(self) -> NDArray[np.bool_]:
        return np.array([4 <= day.month <= 6 for day in self.endings])

    @property
    def seen(self) -> NDArray[np.bool_]:
        """Weeks that settings were fitted to."""
        return np.array([day.year <= LAST_FITTED_YEAR for day in self.endings])

    def sums(self, by_day: Floats, first: date) -> Floats:
        """Sum a daily quantity over the seven days of each report (until 2004 they end a day earlier)."""
        total = np.concatenate([[0.0], np.cumsum(by_day)])
        ends = [(d - first).days + 1 - (1 if d.year <= LAST_FITTED_YEAR else 0) for d in self.endings]
        return np.array([total[end] - total[end - 7] for end in ends])


def weeks() -> Weeks:
    """All 828 weekly reports."""
    with open(open_data("nass_iowa_central_days_suitable_1988_2012.csv"), encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    endings = [date.fromisoformat(row["week_ending"]) for row in rows]
    return Weeks(endings, np.array([float(row["days_suitable"]) for row in rows]))


def baselines(days: DailyWeather, reports: Weeks) -> dict[str, Floats]:
    """Weekly predictions of the simple rules; whatever they need is fitted on the seen weeks only."""
    rain, first = days.rain_mm[0], days.first_day
    yesterday = np.concatenate([[0.0], rain[:-1]])
    day_of_year = np.array([day.timetuple().tm_yday for day in reports.endings])
    seen, told = reports.seen, reports.told
    near = [seen & (np.abs(day_of_year - d) <= 10) for d in day_of_year]
    climatology = np.array([told[n].mean() if n.any() else told[seen].mean() for n in near])
    last_week = np.empty_like(told)
    for k, day in enumerate(reports.endings):
        fresh = k > 0 and day - reports.endings[k - 1] <= timedelta(days=8)
        last_week[k] = told[k - 1] if fresh else climatology[k]
    return {
        "climatology by date": climatology,
        "last week persists": last_week,
        "days with less than 1 mm": reports.sums((rain < 1.0).astype(float), first),
        "best rain rule": reports.sums(((rain < 0.3) & (yesterday < 10)).astype(float), first),
        "antecedent-rain index": _rain_index(rain, first, reports),
        "regression on weather": _regression(days, reports, climatology),
        "one layer, soft limit": _one_layer(days, reports),
        "two layers, one hard limit": _hard_limit(days, reports),
    }


def _rain_index(rain: Floats, first: date, reports: Weeks) -> Floats:
    """Logistic of a decaying rain sum, its three numbers chosen on the seen weeks by grid."""
    best: tuple[float, Floats] | None = None
    for keep in (0.75, 0.80, 0.85, 0.90):
        index = np.empty_like(rain)
        held = 0.0
        for k, amount in enumerate(rain):
            held = keep * held + amount
            index[k] = held
        for half in (10.0, 15.0, 20.0, 25.0, 30.0):
            for scale in (3.0, 6.0, 10.0, 15.0):
                sums = reports.sums(1 / (1 + np.exp(np.clip((index - half) / scale, -50, 50))), first)
                error = float(np.abs(sums - reports.told)[reports.seen].mean())
                if best is None or error < best[0]:
                    best = (error, sums)
    assert best is not None
    return best[1]


def _one_layer(days: DailyWeather, reports: Weeks) -> Floats:
    """One bucket of soil water by the day, a logistic on it; limit, spread and drainage chosen on the seen weeks by grid.

    Evaporation after Hargreaves & Samani (1985) from the measured light, reduced evenly as the bucket dries.
    """
    assert days.solar_mj_m2 is not None
    rain, mean = days.rain_mm[0], (days.tmax_c[0] + days.tmin_c[0]) / 2
    et0 = np.maximum(0.0135 * (mean + 17.8) * days.solar_mj_m2[0] / 2.45, 0.0)
    full, most, least = 50.0, 70.0, 22.0
    best: tuple[float, Floats] | None = None
    for drain_d in (1.0, 2.0, 4.0):
        wet, water = np.empty_like(rain), full
        for k, amount in enumerate(rain):
            water = min(water + amount, most)
            water -= max(0.0, water - full) / (drain_d + 1.0)
            water = max(least, water - et0[k] * np.clip((water - least) / (full - least), 0.0, 1.0))
            wet[k] = water / full
        for limit in (0.8, 0.85, 0.9, 0.95, 1.0, 1.05):
            for spread in (0.05, 0.1, 0.15):
                chance = np.exp(-rain / 7.0) / (1 + np.exp((wet - limit) / spread))
                best = _better(best, reports.sums(chance, days.first_day), reports)
    assert best is not None
    return best[1]


def _hard_limit(days: DailyWeather, reports: Weeks) -> Floats:
    """The model's own two layers with handbook soil, every field at the same hard limit; limits chosen on the seen weeks."""
    judged = judge_district(days, AMES, None, HANDBOOK)
    best: tuple[float, Floats] | None = None
    for limit in np.arange(0.80, 1.21, 0.02):
        for rain_most in (2.0, 5.0, 10.0):
            fit = (judged.wetness <= limit) & (judged.rain_mm <= rain_most) & (judged.frozen_share < 0.5)
            best = _better(best, reports.sums(fit.astype(float), days.first_day), reports)
    assert best is not None
    return best[1]


def _better(best: tuple[float, Floats] | None, sums: Floats, reports: Weeks) -> tuple[float, Floats]:
    error = float(np.abs(sums - reports.told)[reports.seen].mean())
    return best if best is not None and best[0] <= error else (error, sums)


def _regression(days: DailyWeather, reports: Weeks, climatology: Floats) -> Floats:
    """Least squares on rain of three weeks, wet days, temperature, light and the date's climatology."""
    rain, first = days.rain_mm[0], days.first_day
    shifted = [np.concatenate([np.zeros(lag), rain[:-lag]]) if lag else rain for lag in (0, 7, 14)]
    assert days.solar_mj_m2 is not None
    daily = [
        *shifted, *(np.sqrt(s) for s in shifted), *((s > 1.0).astype(float) for s in shifted[:2]),
        (rain > 10).astype(float), days.tmax_c[0], days.tmin_c[0], days.solar_mj_m2[0],
    ]  # fmt: skip
    table = np.column_stack(
        [np.ones(len(reports.told)), climatology, *(reports.sums(d, first) for d in daily)]
    )
    weights, *_ = np.linalg.lstsq(table[reports.seen], reports.told[reports.seen], rcond=None)
    return np.clip(table @ weights, 0, 7)


@dataclass(frozen=True)
class Station:
    """One reference station in 2020; NaN where not measured."""

    name: str
    place: Place
    days: DailyWeather
    moisture_5cm: Floats
    soil_5cm_c: Floats


def stations() -> list[Station]:
    """The US Climate Reference Network stations of the shared file that have a year of days."""
    groups: dict[str, list[dict[str, str]]] = {}
    with open(open_data("uscrn_cornbelt_daily_2020.csv"), encoding="utf-8") as file:
        for row in csv.DictReader(file):
            groups.setdefault(row["wban"], []).append(row)
    return [_station(name, sorted(rows, key=lambda row: row["lst_date"])) for name, rows in groups.items()]


def _station(name: str, rows: list[dict[str, str]]) -> Station:
    def column(key: str) -> Floats:
        values = np.array([float(row[key]) if row[key] else np.nan for row in rows])
        return np.where(values > -90, values, np.nan)

    def bridged(key: str) -> Floats:
        values, index = column(key), np.arange(len(rows))
        known = ~np.isnan(values)
        return np.interp(index, index[known], values[known])

    days = DailyWeather(
        date.fromisoformat(rows[0]["lst_date"]),
        np.nan_to_num(column("p_daily_calc"))[None],
        bridged("t_daily_max")[None],
        bridged("t_daily_min")[None],
        solar_mj_m2=column("solarad_daily")[None],
        rh_max_pct=column("rh_daily_max")[None],
        rh_min_pct=column("rh_daily_min")[None],
    )
    place = Place(float(rows[0]["latitude"]), float(rows[0]["longitude"]), 300.0)
    return Station(name, place, days, column("soil_moisture_5_daily"), column("soil_temp_5_daily"))
