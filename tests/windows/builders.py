"""A small invented farm and made-up weather, so that windows are tested without files."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.events.situation import PassState, Situation
from scheduler.farm.farm import Farm
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import Operator, Shift
from scheduler.farm.product import Form, Product, ProductRate
from scheduler.farm.programme import After, PassSpec, Programme, WindowRule
from scheduler.windows.build import build_outlook
from scheduler.windows.records import Outlook
from shared.clock import Horizon, local_midnight
from shared.day_to_hours import hours_from_days
from shared.vocabulary import Cover, Crop, LoadClass, Operation, Texture
from shared.weather_records import DailyWeather, HourlyWeather, Place

ZONE = "America/Chicago"
FIRST_DAY = date(2027, 5, 10)
PLACE = Place(42.0, -93.0, 300.0)
SPIN_UP_D = 75


def machines() -> tuple[Machine, ...]:
    """Return a heavy tractor with planter and bar, a light seeder, a sprayer."""
    wide: dict[str, Any] = {"width_m": 9.144, "rows": 12, "speed_km_h": 8.0}
    return (
        Machine(id="big", kind=MachineKind.TRACTOR, road_speed_km_h=30.0, load_class=LoadClass.HEAVY),
        Machine(
            id="row", kind=MachineKind.TRACTOR, road_speed_km_h=30.0, load_class=LoadClass.MEDIUM, clearance_m=0.6
        ),
        Machine(
            id="planter", kind=MachineKind.IMPLEMENT, operations=(Operation.PLANT,), pulled_by=("big",),
            load_class=LoadClass.HEAVY, **wide,
        ),
        Machine(
            id="bar", kind=MachineKind.IMPLEMENT, operations=(Operation.SIDE_DRESS, Operation.INTERSEED),
            pulled_by=("row",), load_class=LoadClass.MEDIUM, clearance_m=0.5, **wide,
        ),
        Machine(
            id="dibble", kind=MachineKind.SELF_PROPELLED, operations=(Operation.PLANT,), width_m=3.0, speed_km_h=6.0,
            road_speed_km_h=20.0, load_class=LoadClass.LIGHT,
        ),
        Machine(
            id="sprayer", kind=MachineKind.SELF_PROPELLED, operations=(Operation.SPRAY, Operation.TERMINATE),
            width_m=27.0, speed_km_h=16.0, road_speed_km_h=40.0, load_class=LoadClass.MEDIUM, clearance_m=1.2,
        ),
    )  # fmt: skip


def programme() -> Programme:
    """Return terminate, plant, scout on foot, spray, side-dress with interseeding."""
    return Programme(
        id="corn",
        crop="corn",
        passes=(
            PassSpec(
                id="terminate", operation=Operation.TERMINATE,
                products=(ProductRate(product="burn", rate="2 L/ha"),),
            ),
            PassSpec(id="plant", operation=Operation.PLANT, after=(After(pass_id="terminate"),)),
            PassSpec(id="scout", operation=Operation.SCOUT, on_foot=True, after=(After(pass_id="plant"),)),
            PassSpec(
                id="post", operation=Operation.SPRAY, products=(ProductRate(product="post", rate="2 L/ha"),)
            ),
            PassSpec(
                id="side-dress", operation=Operation.SIDE_DRESS, also=Operation.INTERSEED,
                window=WindowRule(variant="with interseeding"),
            ),
        ),
    )  # fmt: skip


def land(name: str = "low", **more: Any) -> Field:
    """Return a field of 30 ha."""
    parts: dict[str, Any] = {
        "area_ha": 30.0, "latitude_deg": 42.0, "longitude_deg": -93.0, "crop": Crop.CORN, "programme": "corn",
        "texture": Texture.SILTY_CLAY_LOAM, "hydrologic_group": "C", "expected_yield_t_per_ha": 12.0,
    }  # fmt: skip
    return Field(id=name, **(parts | more))


def farm(*fields: Field, **more: Any) -> Farm:
    """Return the farm of the tests."""
    parts: dict[str, Any] = {
        "name": "Test Farm",
        "time_zone": ZONE,
        "latitude_deg": PLACE.latitude_deg,
        "longitude_deg": PLACE.longitude_deg,
        "yards": (Yard(id="home", latitude_deg=42.0, longitude_deg=-93.0),),
        "fields": fields or (land(),),
        "machines": machines(),
        "operators": (Operator(id="ann", skills=("plant",), shifts=(Shift(start=time(6), end=time(20)),)),),
        "products": (
            Product(id="burn", form=Form.LIQUID, reentry_hours=12.0, stock="5000 L"),
            Product(id="post", form=Form.LIQUID, reentry_hours=24.0, wind_most_m_s=3.0, stock="5000 L"),
        ),
        "programmes": (programme(),),
        "price_per_t": {"corn": 170.0},
    }
    return Farm(**(parts | more))


def at(day: int, clock: str = "05:00") -> datetime:
    """Return a farm-local time on a day of the horizon."""
    return datetime.combine(FIRST_DAY + timedelta(days=day), time.fromisoformat(clock), ZoneInfo(ZONE))


def situation(of: Farm, now: datetime | None = None, **more: Any) -> Situation:
    """Return a morning; fields that name `done` passes have finished them."""
    passes = {
        (f.id, spec.id): PassState(
            finished=spec.id in f.done, done_ha=f.area_ha if spec.id in f.done else 0.0
        )
        for f in of.fields
        for spec in of.programme_of(f).passes
    }
    planted = {f.id: f.planted_on for f in of.fields if f.planted_on is not None}
    return Situation(farm=of, now=now or at(0), **({"passes": passes, "planted": planted} | more))


def days_of(
    first: date,
    rain_mm: list[float] | np.ndarray,
    tmax_c: float = 22.0,
    tmin_c: float = 10.0,
    members: int = 1,
) -> DailyWeather:
    """Return mild, moderately breezy days with this rain (days,) or (members, days), in the afternoon."""
    rain = np.atleast_2d(np.asarray(rain_mm, dtype=np.float64))
    rain = np.repeat(rain, members, axis=0) if rain.shape[0] == 1 else rain
    same = np.ones_like(rain)
    return DailyWeather(
        first, rain, tmax_c * same, tmin_c * same, rh_max_pct=85.0 * same, rh_min_pct=45.0 * same,
        wind_m_s=2.5 * same, rain_from_h=13.0 * same, rain_hours=4.0 * same,
    )  # fmt: skip


def observed(
    now: datetime,
    every_d: int = 3,
    rain_mm: float = 11.0,
    spin_up_d: int = SPIN_UP_D,
    last: list[float] | None = None,
) -> HourlyWeather:
    """Return a spring with rain every few days up to `now`; `last` sets the rain of the last full days."""
    local = now.astimezone(ZoneInfo(ZONE)).date()
    rain = [rain_mm if k % every_d == 0 else 0.0 for k in range(spin_up_d + 2)]
    if last:
        rain[spin_up_d - len(last) : spin_up_d] = last
        rain[spin_up_d:] = [0.0, 0.0]
    days = days_of(local - timedelta(days=spin_up_d), rain)
    return hours_from_days(days, PLACE, ZONE).between(days_start(days), now.astimezone(UTC))


def days_start(days: DailyWeather) -> datetime:
    """Return the first hour of daily weather."""
    return local_midnight(days.first_day, ZoneInfo(ZONE))


def forecast(
    first: date,
    rain_mm: list[float] | np.ndarray,
    members: int = 12,
    issued: datetime | None = None,
    **more: float,
) -> HourlyWeather:
    """Return a forecast whose members differ only where the rain given does."""
    hours = hours_from_days(days_of(first, rain_mm, members=members, **more), PLACE, ZONE)
    return replace(
        hours, issued_at=issued or days_start(days_of(first, rain_mm)), source="forecast of the tests"
    )


def normals(years: int = 6, rain_mm: float = 5.0, every_d: int = 3) -> DailyWeather:
    """Return past years with a yearly wave of temperature and rain every few days, shifted from year to year."""
    first = date(2027 - years, 1, 1)
    count = (date(2027, 1, 1) - first).days
    dates = [first + timedelta(days=k) for k in range(count)]
    wave = np.array([-np.cos(2 * np.pi * (d.timetuple().tm_yday - 22) / 365.25) for d in dates])
    rain = np.array([rain_mm if (d.timetuple().tm_yday + d.year) % every_d == 0 else 0.0 for d in dates])
    same = np.ones((1, count))
    return DailyWeather(
        first, rain[None, :], (14.5 + 15.5 * wave)[None, :], (3.5 + 14.0 * wave)[None, :], rh_max_pct=85 * same,
        rh_min_pct=45 * same, wind_m_s=2.5 * same, rain_from_h=13 * same, rain_hours=4 * same, source="past years",
    )  # fmt: skip


def look(
    of: Situation, ahead: HourlyWeather | None, days: int = 7, seen: HourlyWeather | None = None
) -> Outlook:
    """Return the outlook of the tests."""
    first = of.now.astimezone(ZoneInfo(ZONE)).date()
    return build_outlook(of, Horizon(first, days, ZONE), seen or observed(of.now), ahead, normals())


def living(**more: Any) -> Field:
    """Return a field under rye."""
    return land("rye", cover=Cover.RYE, **more)
