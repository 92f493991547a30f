"""A stochastic daily weather generator, fitted to the farm's own past years: springs that could have been.

Question answered: *what other springs does this place have?* In: many past days. Out: daily weather of any dates.

After Richardson (1981), Stochastic simulation of daily precipitation, temperature, and solar radiation, Water Resources
Research 17(1), 182-190: wet and dry days follow a first-order Markov chain, amounts on wet days a gamma law, and the
departures of temperature (and sun, humidity, wind where known) from what is usual for a wet or dry day follow a
multivariate first-order autoregression with the observed correlations of the same and the next day. (The model is
used as widely described; the paper itself was not read.) Chain and amounts are fitted by month, what is usual by a
yearly wave. The daily minimum never exceeds the maximum.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather

Floats = NDArray[np.float64]
WET_MM = 0.25
"""A day with at least so much rain is wet (0.01 inch, the trace limit of US stations)."""
YEARS_LEAST = 5
WAVES = 4
"""Yearly waves (one to four periods a year): fewer miss how quickly the spread of the nights grows from August on."""
VARIANCE_LEAST = 0.05**2
PSEUDO_DAYS = 4.0
"""Months with few wet days lean on the year's mean chance with the weight of so many days."""
AMOUNTS_LEAST = 10
BOUNDS = {
    "solar_mj_m2": (0.3, 45.0),
    "rh_max_pct": (30.0, 100.0),
    "rh_min_pct": (5.0, 100.0),
    "wind_m_s": (0.1, 25.0),
}
TEMPERATURES = ("tmax_c", "tmin_c")


@dataclass(frozen=True)
class WeatherMaker:
    """A fitted generator.

    Attributes
    ----------
    wet_after_dry, wet_after_wet : float array (12,)
        Chance of a wet day by month.
    shape, scale_mm : float array (12,)
        Gamma law of the amount above `WET_MM` on wet days.
    names : tuple of str
        Quantities beside rain, temperatures first.
    usual, variance : float array (2, quantities, 1 + 2 * WAVES)
        Yearly waves of mean and of variance, on dry and on wet days.
    memory, shock : float array (quantities, quantities)
        Matrices A and B of the autoregression of the standardised departures.
    """

    wet_after_dry: Floats
    wet_after_wet: Floats
    shape: Floats
    scale_mm: Floats
    names: tuple[str, ...]
    usual: Floats
    variance: Floats
    memory: Floats
    shock: Floats

    def years(
        self, first: date, last: date, count: int, rng: np.random.Generator, wet_before: bool = False
    ) -> DailyWeather:
        """Return `count` possible weathers of the days from `first` to `last`.

        Parameters
        ----------
        wet_before : bool
            Whether the day before the first was wet.
        """
        days = [first + timedelta(days=k) for k in range((last - first).days + 1)]
        month = np.array([day.month - 1 for day in days])
        wet = self._chain(month, count, rng, wet_before)
        amount = WET_MM + rng.gamma(self.shape[month][None, :], self.scale_mm[month][None, :], wet.shape)
        values = self._around(np.array([day.timetuple().tm_yday for day in days]), wet, rng)
        series = {name: values[..., k] for k, name in enumerate(self.names)}
        low = np.minimum(series["tmin_c"], series["tmax_c"] - 0.5)
        more: dict[str, Any] = {
            name: np.clip(series[name], *BOUNDS[name]) for name in self.names if name in BOUNDS
        }
        if "rh_min_pct" in more and "rh_max_pct" in more:
            more["rh_min_pct"] = np.minimum(more["rh_min_pct"], more["rh_max_pct"])
        return DailyWeather(
            first, np.where(wet, amount, 0.0), series["tmax_c"], low, source="made weather", **more
        )

    def _chain(
        self, month: NDArray[np.int_], count: int, rng: np.random.Generator, before: bool
    ) -> NDArray[np.bool_]:
        wet = np.zeros((count, len(month)), bool)
        state = np.full(count, before)
        for k, m in enumerate(month):
            state = rng.random(count) < np.where(state, self.wet_after_wet[m], self.wet_after_dry[m])
            wet[:, k] = state
        return wet

    def _around(
        self, day_of_year: NDArray[np.int_], wet: NDArray[np.bool_], rng: np.random.Generator
    ) -> Floats:
        """Return the quantities (members, days, quantities) around what is usual for the day."""
        wave = waves(day_of_year)
        usual = np.einsum("skw,dw->sdk", self.usual, wave)
        spread = np.sqrt(np.maximum(np.einsum("skw,dw->sdk", self.variance, wave), VARIANCE_LEAST))
        sort = wet.astype(int)
        out = np.empty((*wet.shape, len(self.names)))
        departure = rng.standard_normal((wet.shape[0], len(self.names)))
        for k in range(wet.shape[1]):
            shock = rng.standard_normal(departure.shape)
            departure = departure @ self.memory.T + shock @ self.shock.T
            out[:, k] = usual[sort[:, k], k] + spread[sort[:, k], k] * departure
        return out


def waves(day_of_year: NDArray[np.int_]) -> Floats:
    """Return the columns of the yearly waves: one, and cosine and sine of each period."""
    angle = 2 * np.pi * np.asarray(day_of_year, float) / 365.25
    columns = [np.ones_like(angle)]
    for k in range(1, WAVES + 1):
        columns += [np.cos(k * angle), np.sin(k * angle)]
    return np.stack(columns, axis=-1)


def fit_maker(past: DailyWeather) -> WeatherMaker:
    """Return the generator fitted to past days (first member).

    Raises
    ------
    WeatherUnavailable
        Fewer than five years.
    """
    if past.days < YEARS_LEAST * 365:
        raise WeatherUnavailable(
            f"made weather needs at least {YEARS_LEAST} past years; the history holds {past.days / 365.25:.1f}."
        )
    dates = past.dates()
    month = np.array([day.month - 1 for day in dates])
    day_of_year = np.array([day.timetuple().tm_yday for day in dates])
    rain = np.nan_to_num(past.rain_mm[0])
    wet = rain >= WET_MM
    after_dry, after_wet = _chances(wet, month)
    shape, scale = _gammas(rain, wet, month)
    names, values = _quantities(past)
    usual, variance, departure = _usual(values, wet, day_of_year)
    memory, shock = _autoregression(departure)
    return WeatherMaker(after_dry, after_wet, shape, scale, names, usual, variance, memory, shock)


def _chances(wet: NDArray[np.bool_], month: NDArray[np.int_]) -> tuple[Floats, Floats]:
    before, now = wet[:-1], wet[1:]
    out = []
    for state in (False, True):
        all_year = now[before == state].mean() if (before == state).any() else wet.mean()
        rows = [(before == state) & (month[1:] == m) for m in range(12)]
        out.append(
            np.array([(now[r].sum() + PSEUDO_DAYS * all_year) / (r.sum() + PSEUDO_DAYS) for r in rows])
        )
    return out[0], out[1]


def _gammas(rain: Floats, wet: NDArray[np.bool_], month: NDArray[np.int_]) -> tuple[Floats, Floats]:
    """Return shape and scale by month: the maximum likelihood estimate in Thom's (1958) closed approximation."""
    everywhere = rain[wet] - WET_MM + 0.01
    shape, scale = np.empty(12), np.empty(12)
    for m in range(12):
        own = rain[wet & (month == m)] - WET_MM + 0.01
        sample = own if len(own) >= AMOUNTS_LEAST else everywhere
        mean = sample.mean()
        gap = max(np.log(mean) - np.log(sample).mean(), 1e-6)
        shape[m] = (1 + np.sqrt(1 + 4 * gap / 3)) / (4 * gap)
        scale[m] = mean / shape[m]
    return shape, scale


def _quantities(past: DailyWeather) -> tuple[tuple[str, ...], Floats]:
    """Return the quantities that the history holds nearly always, days x quantities, gaps as NaN."""
    names = list(TEMPERATURES)
    for name in BOUNDS:
        values = getattr(past, name)
        if values is not None and np.isfinite(values[0]).mean() > 0.9:
            names.append(name)
    return tuple(names), np.stack([np.asarray(getattr(past, name)[0], float) for name in names], axis=-1)


def _usual(
    values: Floats, wet: NDArray[np.bool_], day_of_year: NDArray[np.int_]
) -> tuple[Floats, Floats, Floats]:
    """Return waves of mean and variance on dry and wet days, and the standardised departures (NaN in gaps)."""
    wave, count = waves(day_of_year), values.shape[1]
    usual, variance = np.empty((2, count, wave.shape[1])), np.empty((2, count, wave.shape[1]))
    departure = np.full(values.shape, np.nan)
    for sort in (0, 1):
        for k in range(count):
            rows = (wet == bool(sort)) & np.isfinite(values[:, k])
            usual[sort, k] = np.linalg.lstsq(wave[rows], values[rows, k], rcond=None)[0]
            rest = values[rows, k] - wave[rows] @ usual[sort, k]
            variance[sort, k] = np.linalg.lstsq(wave[rows], rest**2, rcond=None)[0]
            departure[rows, k] = rest / np.sqrt(np.maximum(wave[rows] @ variance[sort, k], VARIANCE_LEAST))
    return usual, variance, departure


def _autoregression(departure: Floats) -> tuple[Floats, Floats]:
    """Return A = M1 M0^-1 and B with B B' = M0 - A M1' from lag-0 and lag-1 correlations (Matalas 1967, in Richardson)."""
    here, there = departure[1:], departure[:-1]
    sound = np.isfinite(here).all(axis=1) & np.isfinite(there).all(axis=1)
    here, there = here[sound], there[sound]
    m0 = here.T @ here / len(here)
    m1 = here.T @ there / len(here)
    memory = m1 @ np.linalg.inv(m0)
    left = m0 - memory @ m1.T
    worth, vectors = np.linalg.eigh((left + left.T) / 2)
    return memory, vectors @ np.diag(np.sqrt(np.maximum(worth, 0.0)))
