"""Where the crop of each field stands, and will stand: stages and height with odds over the members.

In: situation, daily extremes of the observed and coming weather, past years. Out: one `CropView` per field. A field not
planted yet is given an assumed planting day, so that later passes have dates to reckon with; every sentence about it says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Situation
from scheduler.farm.land import Field
from scheduler.stages import (
    CornSetting,
    HeightOdds,
    MeasuredHeight,
    Scouted,
    StageCurve,
    StageOdds,
    StageOptions,
    curve_for,
    daily_heat,
    extend_heat,
    fill_heat,
    heat_normals,
    height_odds,
    stage_dates,
)
from scheduler.stages.height import HEIGHT_CROPS
from scheduler.stages.normals import HeatNormals
from shared.errors import FitgroundError, WeatherUnavailable
from shared.weather_records import DailyWeather

ASSUMED_PLANTING_AFTER_D = 4
"""A crop not planted is reckoned as planted so many days from today (assumption; lags to planting hold anyway)."""
SEASON_D = 110


@dataclass(frozen=True)
class CropView:
    """Stages of one field.

    Attributes
    ----------
    stage : StageOdds
        Covers the days from planting (or before) to `SEASON_D` days past the horizon's first.
    height : HeightOdds or None
        For crops with a height model.
    planted : date
        Planting day, known or assumed.
    assumed : bool
        Nobody has planted it yet.
    """

    stage: StageOdds
    height: HeightOdds | None
    planted: date
    assumed: bool
    notes: tuple[str, ...] = ()

    def stage_name(self, day: date) -> str:
        """Return the likeliest stage at the end of a day; empty before planting."""
        if self.assumed:
            return ""
        number = self.stage.stage_on()[(day - self.stage.first_day).days]
        return self.stage.curve.name_at(float(number))

    def height_m(self, day: date) -> float | None:
        """Return the median height [m]; None before planting or without a height model."""
        if self.assumed or self.height is None:
            return None
        k = (day - self.stage.first_day).days
        return float(np.median(self.height.median_at(0.0, slice(k, k + 1))))


@dataclass(frozen=True)
class Heat:
    """Daily heat by the rule of one crop over the members, and the past years behind it."""

    curve: StageCurve
    first_day: date
    per_day: NDArray[np.float64]


def crop_views(
    situation: Situation, days: DailyWeather, normals: DailyWeather, first_day: date
) -> dict[str, CropView]:
    """Return the crop of every field.

    Parameters
    ----------
    days : DailyWeather
        Daily extremes of the members from the first observed day on.
    normals : DailyWeather
        Past years, to go on with.
    first_day : date
        First day of the horizon.
    """
    farm = situation.farm
    options = (
        StageOptions(corn=CornSetting(school=farm.plan.collar_rate))
        if farm.plan.collar_rate
        else StageOptions()
    )
    heats: dict[str, Heat] = {}
    out = {}
    # Fields of one crop and planting day in which nobody saw anything have the same stages: one view for all.
    alike: dict[tuple[str, date | None], CropView] = {}
    seen = {one.field_id for one in situation.sightings}
    for field in farm.fields:
        crop = field.crop.value
        if crop not in heats:
            curve = curve_for(crop, options)
            heats[crop] = _heat(curve, days, usual_heat(normals, curve), first_day)
        key = (crop, situation.planted.get(field.id))
        view = alike.get(key) if field.id not in seen else None
        if view is None:
            view = _view(situation, field, heats[crop], normals, first_day)
            if field.id not in seen and not view.notes:
                alike[key] = view
        out[field.id] = view
    return out


def usual_heat(normals: DailyWeather, curve: StageCurve) -> HeatNormals:
    """Return the past years' heat by the crop's rule; a history with holes is refused in a sentence."""
    try:
        return heat_normals(normals, curve.rule)
    except ValueError as error:
        raise WeatherUnavailable(
            f"the past years ({normals.source or 'normals'}) do not cover every day of the year; "
            "allowed: at least one whole year of temperatures."
        ) from error


def _heat(curve: StageCurve, days: DailyWeather, usual: HeatNormals, first_day: date) -> Heat:
    known, _ = fill_heat(daily_heat(days, curve.rule), days.first_day, days.first_day)
    until = first_day + timedelta(days=SEASON_D)
    per_day = extend_heat(known, days.first_day, until, usual, members=known.shape[0])
    return Heat(curve, days.first_day, per_day)


def _view(situation: Situation, field: Field, heat: Heat, normals: DailyWeather, first_day: date) -> CropView:
    planted = situation.planted.get(field.id)
    assumed = planted is None or planted > first_day
    day = planted or first_day + timedelta(days=ASSUMED_PLANTING_AFTER_D)
    begin, per_day = heat.first_day, heat.per_day
    if day < begin:
        usual = usual_heat(normals, heat.curve).usual(day, (begin - day).days)
        per_day = np.concatenate([np.tile(usual, (per_day.shape[0], 1)), per_day], axis=1)
        begin = day
    stage = stage_dates(heat.curve, day, begin, per_day)
    if assumed:
        return CropView(stage, None, day, True)
    notes: list[str] = []
    seen, measured = _sightings(situation, field)
    used: list[Scouted] = []
    for one in seen:
        try:
            stage = stage_dates(heat.curve, day, begin, per_day, [*used, one])
            used.append(one)
        except FitgroundError as error:
            notes.append(f"{field.label}: {error}")
    height = None
    if heat.curve.scale.crop in HEIGHT_CROPS:
        try:
            height = height_odds(stage, measured)
        except FitgroundError as error:
            notes.append(f"{field.label}: {error}")
            height = height_odds(stage)
    notes += [f"{field.label}: {note}" for note in stage.notes if "look again" in note]
    return CropView(stage, height, day, False, tuple(notes))


def _sightings(situation: Situation, field: Field) -> tuple[list[Scouted], list[MeasuredHeight]]:
    zone = ZoneInfo(situation.farm.time_zone)
    own = sorted((s for s in situation.sightings if s.field_id == field.id), key=lambda s: s.at)
    seen = [Scouted(s.at.astimezone(zone).date(), s.stage) for s in own if s.stage]
    tall = [MeasuredHeight(s.at.astimezone(zone).date(), s.height_m) for s in own if s.height_m]
    return seen, tall
