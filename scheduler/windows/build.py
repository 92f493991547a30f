"""The outlook of one moment: everything about ground, crop and windows that planning and pages ask for.

Pure: situation, weather and past years in, `Outlook` out. Steps: members ahead (`members`), soil water through observed
and coming hours with measured rain and spade tests (`ground`, `rain`), crop stages (`crop`), windows with the cost of
delay (`timing`, `losses`), fit hours (`rules`, `fit`), and the usual share of fit hours in the weeks behind (`season`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Situation
from scheduler.farm.rig import rigs_of
from scheduler.stages import daily_extremes
from scheduler.windows.crop import CropView, crop_views
from scheduler.windows.fit import Bench, clearance_of, fit_hours, operations_of, rig_keys
from scheduler.windows.ground import GroundRun, go_on, learned_text, run_ground
from scheduler.windows.light import hour_grid
from scheduler.windows.members import full_hour, weather_ahead
from scheduler.windows.records import FieldPass, FieldView, FitHours, Outlook, PassWindow, RigKey
from scheduler.windows.season import WEEKS, season_fit_share
from scheduler.windows.timing import Kept, judge_window
from shared.clock import Horizon, local_midnight
from shared.errors import WeatherUnavailable
from shared.weather_records import DailyWeather, HourlyWeather

SPIN_UP_LEAST_D = 60
HOUR = timedelta(hours=1)
QUANTILES = (0.1, 0.5, 0.9)


def build_outlook(
    situation: Situation,
    horizon: Horizon,
    observed: HourlyWeather,
    forecast: HourlyWeather | None,
    normals: DailyWeather,
    weeks: int = WEEKS,
) -> Outlook:
    """Return the outlook of a moment.

    Parameters
    ----------
    situation : Situation
        What is true now; its `now` cuts the observed hours.
    horizon : Horizon
        Days wanted; the first is today.
    observed : HourlyWeather
        One member up to now; at least 60 days behind are wanted, so that the start is forgotten.
    forecast : HourlyWeather or None
        Members from now on; None goes on with past years alone, and says so.
    normals : DailyWeather
        Past years, one member.
    weeks : int
        Weeks behind the horizon whose usual share of fit hours is wanted; 0 saves the time.

    Raises
    ------
    WeatherUnavailable
        No observed hour before now, or no whole past year.
    """
    farm = situation.farm
    now = full_hour(situation.now)
    seen = observed.between(observed.start_utc, now)
    if seen.hours == 0 or seen.start_utc > horizon.origin_utc:
        raise WeatherUnavailable(
            "there is no observed weather before today; allowed: hours of at least one day."
        )
    behind = local_midnight(horizon.day(horizon.days + 7 * weeks), horizon.zone)
    ahead = weather_ahead(situation.now, behind, seen, forecast, normals, farm.place, horizon.time_zone)
    near = ahead.weather.between(ahead.weather.start_utc, horizon.end_utc)
    run = run_ground(situation, seen, near, horizon.origin_utc)
    days = daily_extremes(seen.followed_by(near), horizon.time_zone)
    crops = crop_views(situation, days, normals, horizon.first_day)
    fit, windows = _judge(situation, horizon, run, crops)
    shares: Mapping[str, NDArray[np.float64]] = {}
    if weeks > 0:
        far = ahead.weather.between(horizon.end_utc, behind)
        far_grid = hour_grid(
            far.start_utc, far.hours, horizon.day(horizon.days), farm.place, horizon.time_zone
        )
        shares = season_fit_share(farm, go_on(run, situation, far), far, far_grid, operations_of(situation))
    known = min(max(int((ahead.known_until - horizon.origin_utc) // HOUR), 0), _hours(horizon))
    return Outlook(
        start_utc=horizon.origin_utc,
        first_day=horizon.first_day,
        days=horizon.days,
        time_zone=horizon.time_zone,
        made_at=situation.now,
        fit=fit,
        windows=windows,
        fields=_field_views(situation, horizon, run, crops),
        weather=run.weather.between(horizon.origin_utc, horizon.end_utc),
        known_hours=known,
        season_fit_share=shares,
        forecast_issued_at=ahead.weather.issued_at,
        notes=_notes(seen, run, crops, ahead.notes),
    )


def _hours(horizon: Horizon) -> int:
    return int((horizon.end_utc - horizon.origin_utc) // HOUR)


def _judge(
    situation: Situation, horizon: Horizon, run: GroundRun, crops: dict[str, CropView]
) -> tuple[dict[FieldPass, dict[RigKey, FitHours]], dict[FieldPass, PassWindow]]:
    """Return fit hours and windows of every pass that is left."""
    farm, rigs = situation.farm, rigs_of(situation.farm)
    lead = run.weather.hour_index(horizon.origin_utc)
    bench = Bench(run, farm.place, lead)
    grid = hour_grid(horizon.origin_utc, _hours(horizon), horizon.first_day, farm.place, horizon.time_zone)
    # The running hour still counts: planning starts work at the next quarter.
    first_hour = max(0, int((full_hour(situation.now) - horizon.origin_utc) // HOUR))
    fit: dict[FieldPass, dict[RigKey, FitHours]] = {}
    windows: dict[FieldPass, PassWindow] = {}
    kept: Kept = {}
    for place, field in enumerate(farm.fields):
        for spec in farm.programme_of(field).passes:
            if (field.id, spec.id) not in situation.passes or situation.left_ha(field.id, spec.id) <= 0:
                continue
            keys = rig_keys(rigs, spec)
            clear = {key: clearance_of(own) for key, own in keys.items()}
            told = judge_window(
                farm,
                field,
                spec,
                crops[field.id],
                horizon.first_day,
                horizon.days,
                list(clear.values()) or [None],
                kept,
            )
            windows[(field.id, spec.id)] = told.window
            fit[(field.id, spec.id)] = {
                key: fit_hours(
                    situation, bench, place, spec, key, own, told.by_clearance[clear[key]], grid, first_hour
                )
                for key, own in keys.items()
            }
    return fit, windows


def _field_views(
    situation: Situation, horizon: Horizon, run: GroundRun, crops: dict[str, CropView]
) -> dict[str, FieldView]:
    lead = run.weather.hour_index(horizon.origin_utc)
    out = {}
    for place, field in enumerate(situation.farm.fields):
        crop = crops[field.id]
        out[field.id] = FieldView(
            surface_wetness=np.quantile(run.trace.surface_wetness[place, :, lead:], QUANTILES, axis=0),
            soil_temp_c=np.median(run.trace.soil_temp_c[place, :, lead:], axis=0).astype(np.float64),
            stage_now=crop.stage_name(horizon.first_day),
            height_now_m=crop.height_m(horizon.first_day),
            learned=learned_text(run.learned.get(place), situation.calibrated.get(field.id)),
        )
    return out


def _notes(
    seen: HourlyWeather, run: GroundRun, crops: dict[str, CropView], ahead: tuple[str, ...]
) -> tuple[str, ...]:
    notes = [*ahead, *seen.notes]
    if seen.hours < SPIN_UP_LEAST_D * 24:
        notes.append(
            f"only {seen.hours // 24} days of observed weather: the wetness still depends on the assumed start "
            f"(wanted: {SPIN_UP_LEAST_D} days)"
        )
    notes += run.notes
    for crop in crops.values():
        notes += crop.notes
    return tuple(dict.fromkeys(notes))
