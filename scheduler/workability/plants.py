"""When plants draw water: hours of living cover, and the basal coefficient of the cash crop.

In: ground, hours of the record. Out: arrays (fields, hours). Coefficients and stage lengths: FAO-56
Tables 11 and 17 (maize 0.15 / 1.15 / 0.50 over 30, 40, 50, 30 days; soybean 0.15 / 1.10 / 0.30 over 20,
30, 60, 25 days), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.workability.ground import Ground
from shared.vocabulary import Cover, Crop
from shared.weather_records import HourlyWeather

EMERGENCE_AFTER_D = 10.0
STAGE_LENGTHS_D = {Crop.CORN: (30.0, 40.0, 50.0, 30.0), Crop.SOYBEAN: (20.0, 30.0, 60.0, 25.0)}
BASAL = {Crop.CORN: (0.15, 1.15, 0.50), Crop.SOYBEAN: (0.15, 1.10, 0.30)}
# A spring cover is taken to start growing from the first of this month; before, the count of degree-days
# rests.
COVER_COUNT_FROM_MONTH = 2


def basal_coefficient(crop: Crop, days_since_planting: NDArray[np.float64]) -> NDArray[np.float64]:
    """Kcb [-] by days since planting: 0 until emergence and after harvest, FAO-56 trapezoid between."""
    start, middle, end = BASAL[crop]
    first, rise, full, fall = STAGE_LENGTHS_D[crop]
    knots = np.cumsum([EMERGENCE_AFTER_D, first - EMERGENCE_AFTER_D, rise, full, fall])
    curve = np.interp(days_since_planting, knots, [start, start, middle, middle, end])
    inside = (days_since_planting >= knots[0]) & (days_since_planting <= knots[-1])
    return np.where(inside, curve, 0.0)


def crop_coefficients(
    grounds: Sequence[Ground], weather: HourlyWeather, plantings: Sequence[Sequence[date]] | None = None
) -> NDArray[np.float64]:
    """Kcb of the cash crop (fields, hours); `plantings` may name several years' dates for each field."""
    table = np.zeros((len(grounds), weather.hours))
    hours = np.arange(weather.hours) / 24.0
    for index, ground in enumerate(grounds):
        own = [ground.planted] if ground.planted is not None else []
        for day in plantings[index] if plantings is not None else own:
            if ground.crop is not None:
                since = (weather.start_utc - datetime.combine(day, time(12), tzinfo=UTC)) / timedelta(days=1)
                table[index] = np.maximum(table[index], basal_coefficient(ground.crop, hours + since))
    return table


def cover_hours(grounds: Sequence[Ground], weather: HourlyWeather) -> NDArray[np.bool_]:
    """Hours in which the cover of a field lives (fields, hours)."""
    table = np.zeros((len(grounds), weather.hours), dtype=np.bool_)
    for row, ground in zip(table, grounds, strict=True):
        if ground.cover is not Cover.NONE:
            end = weather.hours if ground.cover_until is None else weather.hour_index(ground.cover_until)
            row[: max(end, 0)] = True
    return table
