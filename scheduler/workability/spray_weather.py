"""Air for spraying, weather that spoils a surface band, and heat for people.

In: hourly weather. Out: verdicts per member and hour for sprays, cautions for nitrogen bands, heat
index. Every limit is a default that a farm may set; the product label and local law decide, always.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scheduler.workability.evapotranspiration import hour_stamps
from shared.sun import day_length_h, equation_of_time_h
from shared.vocabulary import Reason
from shared.weather_records import HourlyWeather, Place

Floats = NDArray[np.float64]
MPH_TO_M_S = 0.44704
# Wind at 2 m over wind at boom height or 10 m is left alone: labels speak of wind at the boom.


@dataclass(frozen=True)
class SprayRule:
    """Limits of the air for spraying.

    Attributes
    ----------
    wind_max_m_s : float
        Many labels stop at 10 mph [m/s] (Iowa State University ICM, 17 January 2017).
    wind_min_m_s : float
        Below 2-3 mph an inversion is likely (extension services of Delaware and Nebraska) [m/s].
    wind_marginal_m_s : float
        From here to `wind_max_m_s` marginal [m/s] (assumption).
    temp_min_c, temp_max_c : float
        10 degC common practice, no source; 85 F: cut-off of some Group 4 products [degC].
    rain_free_h : int
        Hours without rain after the pass (common practice 1-6, label decides) [h].
    rain_free_mm : float
        Rain in those hours that counts [mm].
    delta_t_max_c : float
        Wet-bulb depression above which fine drops dry up [degC] (common guide 2-8, up to 10; from memory).
    inversion_wind_m_s : float
        With the sun low, inversions hold below this wind: 3 mph (extension text) [m/s].
    inversion_rise_c : float
        An inversion breaks when the air is 3 F above the morning low [degC].
    """

    wind_max_m_s: float = 10 * MPH_TO_M_S
    wind_min_m_s: float = 2.5 * MPH_TO_M_S
    wind_marginal_m_s: float = 8 * MPH_TO_M_S
    temp_min_c: float = 10.0
    temp_max_c: float = 29.4
    rain_free_h: int = 4
    rain_free_mm: float = 0.5
    delta_t_max_c: float = 10.0
    inversion_wind_m_s: float = 3 * MPH_TO_M_S
    inversion_rise_c: float = 3 / 1.8


@dataclass(frozen=True)
class BandRule:
    """What weather does to nitrogen lying in a surface band; cautions only.

    Attributes
    ----------
    incorporate_mm : float
        Rain within `incorporate_h` that moves urea into the ground: 6 mm (Manitoba Agriculture), 13 mm to be
        safe (Montana State University) [mm].
    incorporate_h : int
        Surface urea loss grows from the third to fourth day (University of Illinois) [h].
    wash_mm, wash_h : float, int
        Heavy rain soon after that carries nitrogen off: an inch (assumption) [mm], [h].
    warm_c : float
        Above this air temperature volatilisation is fast (assumption) [degC].
    """

    incorporate_mm: float = 6.0
    incorporate_h: int = 96
    wash_mm: float = 25.4
    wash_h: int = 24
    warm_c: float = 25.0


# Causes that the air can give, in the order in which they are named.
AIR_CAUSES = (
    Reason.WIND_HIGH,
    Reason.WIND_LOW,
    Reason.AIR_COLD,
    Reason.AIR_HOT,
    Reason.RAIN_SOON,
    Reason.DEW,
)
DEW_RH_PCT = 90.0


def rain_after_mm(rain_mm: Floats, hours: int) -> Floats:
    """Rain (…, hours) in the `hours` hours that follow each hour; the record's end counts as dry."""
    padded = np.concatenate([np.zeros_like(rain_mm[..., :1]), np.cumsum(rain_mm, axis=-1)], axis=-1)
    last = padded.shape[-1] - 1
    ends = np.minimum(np.arange(rain_mm.shape[-1]) + 1 + hours, last)
    return padded[..., ends] - padded[..., 1:]


def wet_bulb_c(temp_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Wet-bulb temperature [degC] near sea-level pressure (Stull 2011, JAMC 50:2267, Eq. 1)."""
    t, r = np.asarray(temp_c, float), np.clip(np.asarray(rh_pct, float), 5, 99)
    return (
        t * np.arctan(0.151977 * np.sqrt(r + 8.313659)) + np.arctan(t + r) - np.arctan(r - 1.676331)
        + 0.00391838 * r**1.5 * np.arctan(0.023101 * r) - 4.686035
    )  # fmt: skip


def delta_t_c(temp_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Wet-bulb depression [degC], never below 0."""
    return np.maximum(np.asarray(temp_c, float) - wet_bulb_c(temp_c, rh_pct), 0.0)


def inversion_likely(weather: HourlyWeather, place: Place, rule: SprayRule) -> NDArray[np.bool_]:
    """Hours (members, hours) in which cold air lies near the ground.

    From two hours before sunset until the air is 3 F above the low of the last 12 hours after sunrise,
    while the wind is below 3 mph. Rule of the extension texts quoted in `SprayRule`; a smoke test in the
    field decides.
    """
    doy, middle = hour_stamps(weather)
    solar_h = (middle + place.longitude_deg / 15 + equation_of_time_h(doy)) % 24
    half = day_length_h(place.latitude_deg, doy) / 2
    evening_or_night = (solar_h > 12 + half - 2) | (solar_h < 12 - half)
    temp = weather.temp_c
    low = temp.copy()
    for back in range(1, 12):
        low[:, back:] = np.minimum(low[:, back:], temp[:, :-back])
    morning = (solar_h >= 12 - half) & (solar_h < 12)
    not_risen = temp < low + rule.inversion_rise_c
    calm = weather.wind_m_s < rule.inversion_wind_m_s
    return calm & (evening_or_night[None, :] | (morning[None, :] & not_risen))


def judge_air(
    weather: HourlyWeather, place: Place, spray: SprayRule | None, dew_matters: bool
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Verdict of the air (members, hours): 0 fit, 1 marginal, 2 unfit; causes as bits of `AIR_CAUSES`."""
    shape = weather.temp_c.shape
    fitness, causes = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)

    def mark(reason: Reason, where: NDArray[np.bool_], level: int) -> None:
        fitness[where] = np.maximum(fitness[where], level)
        causes[where] |= np.uint8(1 << AIR_CAUSES.index(reason))

    if dew_matters:
        mark(Reason.DEW, weather.rh_pct >= DEW_RH_PCT, 2)
    if spray is None:
        return fitness, causes
    wind, temp = weather.wind_m_s, weather.temp_c
    mark(Reason.WIND_HIGH, wind > spray.wind_max_m_s, 2)
    mark(Reason.WIND_HIGH, (wind > spray.wind_marginal_m_s) & (wind <= spray.wind_max_m_s), 1)
    mark(Reason.WIND_LOW, (wind < spray.wind_min_m_s) | inversion_likely(weather, place, spray), 2)
    mark(Reason.AIR_COLD, temp < spray.temp_min_c, 2)
    mark(Reason.AIR_HOT, temp > spray.temp_max_c, 2)
    mark(Reason.AIR_HOT, delta_t_c(temp, weather.rh_pct) > spray.delta_t_max_c, 1)
    mark(Reason.RAIN_SOON, rain_after_mm(weather.rain_mm, spray.rain_free_h) > spray.rain_free_mm, 2)
    return fitness, causes


@dataclass(frozen=True)
class BandOutlook:
    """Odds over members (hours,) for a band laid in each hour: washed off, moved in by rain, warm and dry."""

    wash_chance: Floats
    moved_in_chance: Floats
    loss_chance: Floats


def band_outlook(weather: HourlyWeather, rule: BandRule) -> BandOutlook:
    """What is likely to happen to a surface band laid in each hour of the forecast."""
    wash = rain_after_mm(weather.rain_mm, rule.wash_h) >= rule.wash_mm
    moved = rain_after_mm(weather.rain_mm, rule.incorporate_h) >= rule.incorporate_mm
    sums = np.concatenate([np.zeros((weather.members, 1)), np.cumsum(weather.temp_c, axis=1)], axis=1)
    ends = np.minimum(np.arange(weather.hours) + rule.incorporate_h, weather.hours)
    mean = (sums[:, ends] - sums[:, :-1]) / (ends - np.arange(weather.hours))
    loss = ~moved & (mean >= rule.warm_c)
    return BandOutlook(wash.mean(axis=0), moved.mean(axis=0), loss.mean(axis=0))


def heat_index_f(temp_f: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Heat index [degF] (US National Weather Service, Rothfusz, technical attachment SR 90-23)."""
    t, r = np.broadcast_arrays(np.asarray(temp_f, float), np.asarray(rh_pct, float))
    simple = (0.5 * (t + 61 + 1.2 * (t - 68) + 0.094 * r) + t) / 2
    full = (
        -42.379 + 2.04901523 * t + 10.14333127 * r - 0.22475541 * t * r - 0.00683783 * t**2
        - 0.05481717 * r**2 + 0.00122874 * t**2 * r + 0.00085282 * t * r**2 - 0.00000199 * t**2 * r**2
    )  # fmt: skip
    dry = (r < 13) & (t >= 80) & (t <= 112)
    damp = (r > 85) & (t >= 80) & (t <= 87)
    full = full - np.where(dry, (13 - r) / 4 * np.sqrt(np.maximum(17 - np.abs(t - 95), 0) / 17), 0)
    full = full + np.where(damp, (r - 85) / 10 * (87 - t) / 5, 0)
    return np.where(simple < 80, simple, full)


def heat_index_c(temp_c: ArrayLike, rh_pct: ArrayLike) -> Floats:
    """Heat index [degC] from air temperature [degC] and humidity [%]."""
    return (heat_index_f(np.asarray(temp_c, float) * 1.8 + 32, rh_pct) - 32) / 1.8
