"""Soil water, snow, frost and soil temperature of many fields under many possible weathers, hour by hour.

Question answered: how wet, how cold, how frozen is each field at each hour? In: grounds, hourly
weather, place, optional rain by field, optional state to start from. Out: a `SoilTrace`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from scheduler.workability import layout as at
from scheduler.workability.evapotranspiration import et0_of_hours, hour_stamps
from scheduler.workability.ground import (
    Ground,
    SoilOptions,
    ground_parameters,
    on_reference_scale,
    pore_scales,
)
from scheduler.workability.plants import COVER_COUNT_FROM_MONTH, cover_hours, crop_coefficients
from scheduler.workability.soil_loop import march
from shared.weather_records import HourlyWeather, Place

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]


@dataclass(frozen=True)
class SoilState:
    """Water and heat of every field in every member at one moment.

    Attributes
    ----------
    at_utc : datetime
        The moment.
    values : array (fields, members, layout.STATES)
        Columns as in `layout`.
    """

    at_utc: datetime
    values: Floats

    def for_members(self, members: int) -> SoilState:
        """Repeat a state of one member (history) over the members of a forecast."""
        if self.values.shape[1] == members:
            return self
        if self.values.shape[1] != 1:
            raise ValueError(f"cannot spread {self.values.shape[1]} members over {members}")
        return replace(self, values=np.repeat(self.values, members, axis=1))

    def with_surface(self, field: int, surface_mm: float) -> SoilState:
        """Return the state with another surface water of one field, in all members [mm]."""
        values = self.values.copy()
        values[field, :, at.SURFACE] = surface_mm
        return replace(self, values=values)


@dataclass(frozen=True)
class SoilTrace:
    """What happened in the ground. Arrays are (fields, members, hours), values at the end of the hour.

    Attributes
    ----------
    start_utc : datetime
        Start of the first hour.
    surface_wetness, subsoil_wetness : array
        Water of the layer over its field capacity [-].
    snow_mm, pond_mm : array
        Snow as water, standing water [mm].
    soil_temp_c : array
        At 5 cm [degC].
    frozen : array of bool
        Ground frozen at 5 cm or below.
    totals_mm : array (fields, members, layout.TOTALS)
        Rain, runoff, evaporation, transpiration, drainage over the run [mm].
    final : SoilState
        To continue from.
    capacity_mm : array (fields,)
        Field capacity of the surface layer [mm].
    limit_shift : array (fields,)
        Shift of the wetness limits of each field [fraction of field capacity].
    rain_mm : array (fields or 1, members or 1, hours)
        The rain that was used [mm].
    scales : array (fields,)
        Pore scale of each field, see `ground.pore_scales`.
    """

    start_utc: datetime
    surface_wetness: Singles
    subsoil_wetness: Singles
    snow_mm: Singles
    pond_mm: Singles
    soil_temp_c: Singles
    frozen: NDArray[np.bool_]
    totals_mm: Floats
    final: SoilState
    capacity_mm: Floats
    limit_shift: Floats
    rain_mm: Floats
    scales: Floats

    @property
    def shape(self) -> tuple[int, int, int]:
        """Fields, members, hours."""
        fields, members, hours = self.surface_wetness.shape
        return fields, members, hours

    @cached_property
    def judged_surface(self) -> Singles:
        """Surface wetness on the scale of the reference texture, on which limits are written."""
        return on_reference_scale(self.surface_wetness, self._wide_scales()).astype(np.float32, copy=False)

    @cached_property
    def judged_subsoil(self) -> Singles:
        """Subsoil wetness on the scale of the reference texture."""
        return on_reference_scale(self.subsoil_wetness, self._wide_scales()).astype(np.float32, copy=False)

    def _wide_scales(self) -> Singles:
        return self.scales[:, None, None].astype(np.float32)


def first_guess(grounds: Sequence[Ground], weather: HourlyWeather, options: SoilOptions) -> SoilState:
    """Field capacity everywhere and the mean air temperature of the first ten days: only to spin up from."""
    parameters = ground_parameters(grounds, options)
    values = np.zeros((len(grounds), weather.members, at.STATES))
    values[:, :, at.SURFACE] = parameters[:, at.FC1, None]
    values[:, :, at.SUBSOIL] = parameters[:, at.FC2, None]
    values[:, :, at.RETENTION] = parameters[:, at.S_WET, None]
    mild = weather.temp_c[:, :240].mean(axis=1) if weather.hours else np.zeros(weather.members)
    values[:, :, at.SOIL_C] = values[:, :, at.DEEP_C] = mild[None, :]
    return SoilState(weather.start_utc, values)


def run_soil_water(
    grounds: Sequence[Ground],
    weather: HourlyWeather,
    place: Place,
    rain_mm: Floats | None = None,
    start: SoilState | None = None,
    options: SoilOptions | None = None,
    plantings: Sequence[Sequence[date]] | None = None,
) -> SoilTrace:
    """Run the ground through the weather.

    Parameters
    ----------
    grounds : sequence of Ground
        One per field.
    weather : HourlyWeather
        Observed (one member) or forecast hours.
    place : Place
        For radiation and evapotranspiration.
    rain_mm : array (fields or 1, members or 1, hours), optional
        Rain that fell on the field itself [mm], used instead of the weather's where not NaN.
    start : SoilState, optional
        State at the start of `weather`, of one member or of as many as `weather` has; field capacity
        without it.
    options : SoilOptions, optional
        Settings of the model.
    plantings : sequence of sequences of date, optional
        For records of many years: all planting dates of each field, instead of its single `planted`.

    Returns
    -------
    SoilTrace
    """
    options = options or SoilOptions()
    fields, members, hours = len(grounds), weather.members, weather.hours
    begin = start.for_members(members) if start is not None else first_guess(grounds, weather, options)
    if begin.values.shape != (fields, members, at.STATES):
        raise ValueError(f"the start state is for {begin.values.shape[0]} fields, not {fields}")
    parameters = ground_parameters(grounds, options)
    new_day, growing, count_from = _calendar(weather, place, options)
    rain = _field_rain(rain_mm, weather)
    state, totals = begin.values.copy(), np.zeros((fields, members, at.TOTALS))
    layers = tuple(np.empty((fields, members, hours), np.float32) for _ in range(5))
    frozen = np.empty((fields, members, hours), np.bool_)
    march(
        parameters, rain, weather.temp_c, et0_of_hours(weather, place),
        weather.solar_mj_m2, new_day, growing, count_from, cover_hours(grounds, weather),
        crop_coefficients(grounds, weather, plantings), state, totals, (*layers, frozen),
    )  # fmt: skip
    surface, subsoil, snow, pond, soil_c = layers
    return SoilTrace(
        start_utc=weather.start_utc,
        surface_wetness=surface,
        subsoil_wetness=subsoil,
        snow_mm=snow,
        pond_mm=pond,
        soil_temp_c=soil_c,
        frozen=frozen,
        totals_mm=totals,
        final=SoilState(weather.end_utc, state),
        capacity_mm=parameters[:, at.FC1].copy(),
        limit_shift=np.array([ground.limit_shift for ground in grounds]),
        rain_mm=rain,
        scales=pore_scales(grounds),
    )


def stored_mm(state: SoilState) -> Floats:
    """All water held (fields, members) [mm]: snow, standing water, both layers."""
    return state.values[:, :, [at.SNOW, at.POND, at.SURFACE, at.SUBSOIL]].sum(axis=2)


def _field_rain(rain_mm: Floats | None, weather: HourlyWeather) -> Floats:
    if rain_mm is None:
        return np.ascontiguousarray(weather.rain_mm[None, :, :], dtype=np.float64)
    return np.ascontiguousarray(np.where(np.isnan(rain_mm), weather.rain_mm[None, :, :], rain_mm))


def _calendar(
    weather: HourlyWeather, place: Place, options: SoilOptions
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.int8]]:
    """First hour of each day; growing season; cover count: 0 resets it (winter), 1 lets it run."""
    doy, middle = hour_stamps(weather)
    if options.time_zone is None:
        new_day = np.floor(middle + place.longitude_deg / 15) % 24 == 0
    else:
        grid = pd.date_range(weather.start_utc, periods=weather.hours, freq="h", tz="UTC")
        new_day = np.asarray(grid.tz_convert(options.time_zone).hour == 0)
    common = [
        datetime(2001, *day, tzinfo=UTC).timetuple().tm_yday
        for day in (options.growing_from, options.growing_to)
    ]
    growing = (doy >= common[0]) & (doy <= common[1])
    counts_from = datetime(2001, COVER_COUNT_FROM_MONTH, 1, tzinfo=UTC).timetuple().tm_yday
    return new_day, growing, (doy >= counts_from).astype(np.int8)
