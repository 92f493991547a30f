"""Rain that people measured, put on the fields it stands for.

A gauge speaks for its own field, and for neighbours within the farm's `gauge_reach_km`; a reading of the whole farm for
every field. Where several speak about the same hours the nearest wins, then the later one.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Rain, Situation
from scheduler.farm.farm import Farm, great_circle_km
from scheduler.workability.gauges import GaugeReading, rain_by_field
from shared.weather_records import HourlyWeather


def field_rain(situation: Situation, observed: HourlyWeather) -> NDArray[np.float64]:
    """Return rain (fields, 1, hours) [mm] over the observed hours; NaN where no gauge speaks."""
    ranked: list[tuple[float, datetime, GaugeReading]] = []
    for rain in situation.rain:
        span = _inside(rain, observed)
        if span is None:
            continue
        for index, distance_km in _fields_of(situation.farm, rain):
            ranked.append((-distance_km, rain.end, GaugeReading((index,), *span, rain.rain_mm)))
    ranked.sort(key=lambda item: (item[0], item[1]))
    return rain_by_field(len(situation.farm.fields), observed, [reading for _, _, reading in ranked])


def _fields_of(farm: Farm, rain: Rain) -> list[tuple[int, float]]:
    """Return index and distance [km] of every field that a reading stands for."""
    if rain.field_id is None:
        return [(k, farm.weather.gauge_reach_km + 1.0) for k in range(len(farm.fields))]
    gauge = farm.field_by_id[rain.field_id]
    away = [(k, 0.0 if f.id == gauge.id else great_circle_km(gauge, f)) for k, f in enumerate(farm.fields)]
    return [(k, km) for k, km in away if km <= farm.weather.gauge_reach_km]


def _inside(rain: Rain, observed: HourlyWeather) -> tuple[datetime, datetime] | None:
    """Return the reading's interval cut at the end of the observed hours; None when it lies outside.

    A reading of the running hour is counted in the last full one, so that no measured rain is lost.
    """
    end = min(rain.end, observed.end_utc)
    start = min(rain.start, end - timedelta(hours=1))
    return (start, end) if end > observed.start_utc and rain.start < rain.end else None
