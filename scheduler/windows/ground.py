"""The ground of every field: from what is known of it, through the observed weather, into every member ahead.

In: situation, observed hours, members ahead. Out: `GroundRun`, a soil trace that starts a day before the horizon (so
that rain and warmth of the day before still count) and the members it was made from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Calibrated, Check, Situation
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.windows.rain import field_rain
from scheduler.workability import (
    Ground,
    GroundCheck,
    Learned,
    SoilOptions,
    SoilTrace,
    fit_rule,
    learn_field,
    run_soil_water,
)
from shared.vocabulary import Cover, LoadClass, Operation
from shared.weather_records import HourlyWeather

LEAD_H = 24
COVER_ENDED_BEFORE_D = 10
"""A cover that was ended before the log began is taken to have died so many days before now (assumption)."""
LAYERS = ("surface_wetness", "subsoil_wetness", "snow_mm", "pond_mm", "soil_temp_c", "frozen")


@dataclass(frozen=True)
class GroundRun:
    """Soil and weather from a day before the horizon to its end.

    Attributes
    ----------
    trace : SoilTrace
        Hours from `weather.start_utc`; observed hours repeated over the members.
    weather : HourlyWeather
        The same hours and members.
    grounds : tuple of Ground
        One per field, in farm order, with what spade tests taught.
    learned : mapping of field index to Learned
    """

    trace: SoilTrace
    weather: HourlyWeather
    grounds: tuple[Ground, ...]
    learned: dict[int, Learned]
    notes: tuple[str, ...] = ()


def living_cover(situation: Situation, field: Field) -> Cover:
    """Return the cover that still lives in a field."""
    if field.cover is Cover.NONE or _cover_ended(situation, field) is not None:
        return Cover.NONE
    return field.cover


def _cover_ended(situation: Situation, field: Field) -> datetime | None:
    for spec in situation.farm.programme_of(field).passes:
        state = situation.passes.get((field.id, spec.id))
        if Operation.TERMINATE in spec.operations and state is not None and state.finished:
            return state.finished_at or situation.now - timedelta(days=COVER_ENDED_BEFORE_D)
    return None


def ground_of(situation: Situation, field: Field) -> Ground:
    """Return the ground of a field as the farm file and the log describe it."""
    taught = situation.calibrated.get(field.id) or situation.calibrated.get("")
    return Ground(
        limit_shift=0.0 if taught is None else taught.limit_shift,
        drying_factor=1.0 if taught is None else taught.drying_factor,
        texture=field.texture,
        field_capacity=field.field_capacity_share,
        wilting_point=field.wilting_point_share,
        tiled=field.tiled,
        hydrologic_group=field.hydrologic_group,
        slope_pct=100 * field.slope_share,
        residue_pct=100 * field.residue_share,
        cover=field.cover,
        cover_until=_cover_ended(situation, field),
        crop=field.crop,
        planted=situation.planted.get(field.id),
    )


def run_ground(
    situation: Situation, observed: HourlyWeather, ahead: HourlyWeather, origin: datetime
) -> GroundRun:
    """Run every field through the observed hours and on through every member.

    Parameters
    ----------
    origin : datetime
        First hour of the horizon; the trace begins `LEAD_H` hours before it.
    """
    farm = situation.farm
    past = observed.between(observed.start_utc, ahead.start_utc)
    rain = field_rain(situation, past)
    grounds = [ground_of(situation, field) for field in farm.fields]
    learned, notes = learn_fields(situation, grounds, past, rain)
    for k, found in learned.items():
        grounds[k] = found.ground
    options = _options(farm)
    behind = run_soil_water(grounds, past, farm.place, rain, options=options)
    state = behind.final
    for k, found in learned.items():
        state = state.with_surface(k, max(found.wetness_after.mean, 0.0) * float(behind.capacity_mm[k]))
    future = run_soil_water(grounds, ahead, farm.place, start=state, options=options)
    lead = max(0, min(past.hours, past.hour_index(origin) - LEAD_H))
    weather = past.between(past.start_utc + timedelta(hours=lead), past.end_utc).followed_by(ahead)
    return GroundRun(_joined(behind, lead, future), weather, tuple(grounds), learned, tuple(notes))


def go_on(run: GroundRun, situation: Situation, weather: HourlyWeather) -> SoilTrace:
    """Run the same ground on from the end of a run."""
    farm = situation.farm
    return run_soil_water(run.grounds, weather, farm.place, start=run.trace.final, options=_options(farm))


def _options(farm: Farm) -> SoilOptions:
    """Settings of the soil loop: the day in which rain is counted is the farm's."""
    return SoilOptions(time_zone=farm.time_zone)


def _joined(behind: SoilTrace, lead: int, future: SoilTrace) -> SoilTrace:
    """Return the last hours of the past, repeated over the members, with the hours ahead."""
    fields, members, _ = future.shape
    parts: dict[str, Any] = {
        name: np.concatenate(
            [np.repeat(getattr(behind, name)[:, :, lead:], members, axis=1), getattr(future, name)], axis=2
        )
        for name in LAYERS
    }
    rain = [
        np.broadcast_to(part, (fields, members, part.shape[2]))
        for part in (behind.rain_mm[:, :, lead:], future.rain_mm)
    ]
    start = behind.start_utc + timedelta(hours=lead)
    return replace(
        future, start_utc=start, rain_mm=np.ascontiguousarray(np.concatenate(rain, axis=2)), **parts
    )


def learn_fields(
    situation: Situation, grounds: Sequence[Ground], past: HourlyWeather, rain: NDArray[np.float64]
) -> tuple[dict[int, Learned], list[str]]:
    """Learn every field in which somebody dug.

    Reports before the observed hours teach nothing, and those that a calibration of the field has counted already do
    not count twice.
    """
    out: dict[int, Learned] = {}
    notes = []
    for k, field in enumerate(situation.farm.fields):
        checks = [
            _check(situation, field, check)
            for check in situation.checks
            if check.field_id == field.id and past.start_utc <= check.at and not _counted(situation, check)
        ]
        checks = [replace(check, at=min(check.at, past.end_utc - timedelta(minutes=1))) for check in checks]
        if not checks or past.hours == 0:
            continue
        out[k] = learn_field(
            grounds[k], checks, past, situation.farm.place, rain_mm=rain[k : k + 1],
            options=_options(situation.farm),
        )  # fmt: skip
        if out[k].doubted:
            notes.append(f"{field.label}: a ground check does not fit the others and the weather; look again")
    return out, notes


def _counted(situation: Situation, check: Check) -> bool:
    taught = situation.calibrated.get(check.field_id)
    return taught is not None and check.at <= taught.at


def _check(situation: Situation, field: Field, check: Check) -> GroundCheck:
    spec = situation.farm.spec(field.id, check.pass_id) if check.pass_id else None
    operation = spec.operation if spec is not None else Operation.PLANT
    rule = fit_rule(operation, LoadClass.MEDIUM, cover=living_cover(situation, field))
    return GroundCheck(check.at, check.verdict, rule)


def learned_text(learned: Learned | None, taught: Calibrated | None = None) -> str:
    """Say in words what spade tests taught about a field, since it was calibrated if it was."""
    kept = ""
    if taught is not None:
        kept = f"calibrated: limits {taught.limit_shift:+.3f} of field capacity, drains {taught.drying_factor:.2f} times as slowly"
    if learned is None:
        return kept
    slow, was_slow = learned.drying_factor_after, learned.drying_factor_before
    limit, was_limit = learned.limit_shift_after, learned.limit_shift_before
    slower, shift = slow.mean / max(was_slow.mean, 1e-9) - 1, limit.mean - was_limit.mean
    said = []
    if abs(slower) >= 0.02:
        said.append(
            f"dries {abs(slower):.0%} {'slower' if slower > 0 else 'faster'} than believed before (factor "
            f"{was_slow.mean:.2f} +- {was_slow.sd:.2f} then, {slow.mean:.2f} +- {slow.sd:.2f} now)"
        )
    if abs(shift) >= 0.005:
        said.append(
            f"may be worked {abs(shift):.1%} of field capacity {'wetter' if shift > 0 else 'drier'} (shift "
            f"{was_limit.mean:+.3f} +- {was_limit.sd:.3f} then, {limit.mean:+.3f} +- {limit.sd:.3f} now)"
        )
    news = "ground checks: " + (" and ".join(said) if said else "as expected")
    return f"{news}; {kept}" if kept else news
