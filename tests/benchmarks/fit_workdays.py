"""Fit the district's soft limit and its soil settings to weekly reports, and print how they do on unseen weeks.

Run by hand: ``python -m tests.benchmarks.fit_workdays [seconds]``. Reads the open data named in
`tests.data_paths`. Fits on 1988-2004 only and prints 2005-2012 apart. The printed settings are those of
`scheduler.workability.district.FITTED`, rounded there. Needs SciPy.
"""

from __future__ import annotations

import csv
import sys
import time
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution, minimize

from scheduler.workability import layout as at
from scheduler.workability.calibrate import score
from scheduler.workability.district import FITTED, TYPICAL_GROUND, DistrictRule, suitable_share
from scheduler.workability.evapotranspiration import et0_of_hours
from scheduler.workability.ground import SoilOptions, ground_parameters
from scheduler.workability.plants import crop_coefficients
from scheduler.workability.soil_loop import march
from scheduler.workability.soil_water import _calendar, first_guess
from scheduler.workability.workdays import TYPICAL_PLANTING
from shared.day_to_hours import hours_from_days
from shared.vocabulary import Crop
from shared.weather_records import DailyWeather, Place
from tests.data_paths import data_folder

Floats = NDArray[np.float64]
PLACE = Place(42.0, 0.0, 300.0)
LAST_FITTED_YEAR = 2004
SOIL = {
    "drainage_time_factor": (0.2, 2.0), "subsoil_time_factor": (0.3, 2.5), "coupling": (0.0, 2.5),
    "rise_share": (0.0, 0.3), "curve_number": (75.0, 92.0), "subsoil_depth_m": (0.2, 0.5), "kc_max": (0.9, 1.2),
}  # fmt: skip
RULE = {
    "limit": (0.75, 1.15), "spread": (0.05, 0.2), "rain_scale_mm": (4.0, 20.0), "season_weight": (0.0, 1.5),
    "harvest_shift": (0.0, 0.3), "cold_c": (-5.0, 4.0),
}  # fmt: skip
BOUNDS = [*SOIL.values(), *RULE.values()]


def ames(first: str, last: str) -> DailyWeather:
    """Daily weather of Ames, Iowa, between two dates."""
    with open(data_folder() / "ames_daily_1980_2019.csv", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if first <= row["date"] <= last]
    rain, tmax, tmin, light = (
        np.array([[float(row[name]) for row in rows]]) for name in ("rain", "maxt", "mint", "radn")
    )
    return DailyWeather(date.fromisoformat(rows[0]["date"]), rain, tmax, tmin, solar_mj_m2=light)


def reports() -> tuple[list[date], Floats]:
    """Week endings and days suitable of central Iowa."""
    with open(data_folder() / "nass_iowa_central_days_suitable_1988_2012.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [date.fromisoformat(r["week_ending"]) for r in rows], np.array(
        [float(r["days_suitable"]) for r in rows]
    )


def ends_before_d(week_ending: date) -> int:
    """Until about 2005 a report fits the seven days that end one day before its date (data/SOURCES.md)."""
    return 1 if week_ending.year <= LAST_FITTED_YEAR else 0


class Runner:
    """The hour loop over one record, with everything that does not change between trials made once."""

    def __init__(self, days: DailyWeather) -> None:
        self.days = days
        self.weather = hours_from_days(days, PLACE, "UTC")
        self.et0 = et0_of_hours(self.weather, PLACE)
        self.ground = replace(TYPICAL_GROUND, crop=Crop.CORN)
        plantings = [
            date(y, *TYPICAL_PLANTING) for y in range(days.first_day.year, days.dates()[-1].year + 1)
        ]
        self.kcb = crop_coefficients([self.ground], self.weather, [plantings])
        self.alive = np.zeros((1, self.weather.hours), np.bool_)
        shape = (1, 1, self.weather.hours)
        self.out = (*(np.empty(shape, np.float32) for _ in range(5)), np.empty(shape, np.bool_))
        self.calendar = _calendar(self.weather, PLACE, SoilOptions())
        self.day_of_year = np.array([d.timetuple().tm_yday for d in days.dates()])

    def chance(self, rule: DistrictRule, soil: SoilOptions) -> Floats:
        """Share of fit ground by day."""
        state = first_guess([self.ground], self.weather, soil).values.copy()
        march(
            ground_parameters([self.ground], soil), self.weather.rain_mm[None], self.weather.temp_c, self.et0,
            self.weather.solar_mj_m2, *self.calendar, self.alive, self.kcb, state,
            np.zeros((1, 1, at.TOTALS)), self.out,
        )  # fmt: skip
        surface, _, snow, _, soil_c, frozen = (values[0, 0].reshape(-1, 24) for values in self.out)
        work = slice(rule.work_from_h, rule.work_to_h)
        return suitable_share(
            rule, self.day_of_year, surface[:, work].mean(axis=1), self.days.rain_mm[0], soil_c.mean(axis=1),
            frozen[:, work].mean(axis=1), snow[:, 12],
        )  # fmt: skip

    def weekly(self, rule: DistrictRule, soil: SoilOptions, weeks: list[date]) -> Floats:
        """Expected days suitable of each week."""
        sums = np.concatenate([[0.0], np.cumsum(self.chance(rule, soil))])
        ends = np.array([(w - self.days.first_day).days + 1 - ends_before_d(w) for w in weeks])
        return sums[ends] - sums[ends - 7]


def unpack(point: Floats) -> tuple[DistrictRule, SoilOptions]:
    """Turn a point of the search into settings."""
    names = [*SOIL, *RULE]
    values = dict(zip(names, (float(v) for v in point), strict=True))
    rule = replace(FITTED.rule, **{name: values[name] for name in RULE})
    return rule, replace(SoilOptions(), **{name: values[name] for name in SOIL})


def in_use() -> Floats:
    """Return the settings of the program as a point of the search."""
    values = [getattr(FITTED.soil, name) for name in SOIL] + [getattr(FITTED.rule, name) for name in RULE]
    return np.array(values, np.float64)


def loss(point: Floats, runner: Runner, weeks: list[date], told: Floats, spring: NDArray[np.bool_]) -> float:
    """Mean absolute error of all weeks and, twice as heavy, of April to June, with its spread and bias."""
    inside = np.clip(point, [b[0] for b in BOUNDS], [b[1] for b in BOUNDS])
    error = runner.weekly(*unpack(inside), weeks) - told
    mine = error[spring]
    fit = 0.5 * np.abs(error).mean() + np.abs(mine).mean() + 0.25 * np.sqrt((mine**2).mean())
    return float(fit + 0.5 * abs(mine.mean()) + np.abs(point - inside).sum())


def fit(seconds: float) -> tuple[DistrictRule, SoilOptions]:
    """Search on 1988-2004 for about so many seconds, from the settings in use on, then polish."""
    weeks, told = reports()
    seen = [k for k, week in enumerate(weeks) if week.year <= LAST_FITTED_YEAR]
    weeks, told = [weeks[k] for k in seen], told[seen]
    spring = np.array([4 <= week.month <= 6 for week in weeks])
    runner = Runner(ames("1987-01-01", "2004-12-31"))
    arguments = (runner, weeks, told, spring)
    begin = time.monotonic()
    found = differential_evolution(
        loss, BOUNDS, arguments, maxiter=10**6, popsize=4, seed=1, polish=False, tol=1e-9, x0=in_use(),
        callback=lambda *a, **k: time.monotonic() - begin > seconds,
    )  # fmt: skip
    best = minimize(loss, found.x, arguments, method="Nelder-Mead", options={"maxfev": 800}).x
    return unpack(np.clip(best, [b[0] for b in BOUNDS], [b[1] for b in BOUNDS]))


def main() -> None:
    """Fit, then print the settings and their errors on seen and unseen weeks."""
    rule, soil = fit(float(sys.argv[1]) if len(sys.argv) > 1 else 120.0)
    print(rule, soil, sep="\n")
    weeks, told = reports()
    runner = Runner(ames("1987-01-01", "2012-12-31"))
    sums = runner.weekly(rule, soil, weeks)
    spring = np.array([4 <= week.month <= 6 for week in weeks])
    seen = np.array([week.year <= LAST_FITTED_YEAR for week in weeks])
    for name, part in (
        ("1988-2004, all weeks", seen), ("1988-2004, April-June", seen & spring),
        ("2005-2012, all weeks", ~seen), ("2005-2012, April-June", ~seen & spring),
    ):  # fmt: skip
        print(name, score(sums[part], told[part]))


if __name__ == "__main__":
    main()
