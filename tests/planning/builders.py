"""Small invented farms, situations and outlooks by hand, so that planning is tested without weather or files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.events.situation import PassState, Situation, Supply
from scheduler.farm.farm import Farm, PlanSettings
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import Licence, Operator, Shift
from scheduler.farm.product import Form, Product, ProductRate
from scheduler.farm.programme import After, PassSpec, Programme, WindowRule
from scheduler.farm.rig import rigs_of
from scheduler.windows.records import FitHours, Outlook, PassWindow
from shared.clock import Horizon
from shared.vocabulary import Crop, Guidance, LoadClass, Operation, Reason
from shared.weather_records import HourlyWeather

ZONE = "America/Chicago"
FIRST_DAY = date(2027, 5, 10)
"""A Monday."""
REASONS = list(Reason)
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def at(day: int, clock: str = "05:00") -> datetime:
    """Return a farm-local time on a day of the horizon."""
    return datetime.combine(FIRST_DAY + timedelta(days=day), time.fromisoformat(clock), ZoneInfo(ZONE))


def horizon(days: int = 5) -> Horizon:
    """Return the horizon of the tests."""
    return Horizon(FIRST_DAY, days, ZONE)


def person(name: str, *skills: str, **more: Any) -> Operator:
    """Return somebody who works 06:00 to 20:00 from Monday to Saturday."""
    shifts = more.pop("shifts", (Shift(start=time(6), end=time(20)),))
    licences = more.pop("licences", (Licence(name="applicator"),))
    return Operator(id=name, skills=skills, shifts=shifts, licences=licences, wage_per_h=25.0, **more)


def machines() -> tuple[Machine, ...]:
    """Return two tractors, a sprayer, a nitrogen bar with tender, a planter."""
    wide = {"width_m": 9.144, "rows": 12, "hitch_minutes": 20.0, "setup_minutes": 5.0}
    return (
        Machine(
            id="big", kind=MachineKind.TRACTOR, guidance=Guidance.CENTIMETRE, road_speed_km_h=30.0,
            load_class=LoadClass.HEAVY, cost_per_h=60.0,
        ),
        Machine(
            id="small", kind=MachineKind.TRACTOR, guidance=Guidance.CENTIMETRE, road_speed_km_h=30.0,
            load_class=LoadClass.MEDIUM, cost_per_h=40.0,
        ),
        Machine(
            id="sprayer", kind=MachineKind.SELF_PROPELLED, width_m=27.0, speed_km_h=16.0, capacity_l=3800.0,
            refill_minutes=20.0, road_speed_km_h=40.0, load_class=LoadClass.MEDIUM,
            operations=(Operation.SPRAY, Operation.TERMINATE), cost_per_h=70.0,
        ),
        Machine(
            id="bar", kind=MachineKind.IMPLEMENT, speed_km_h=8.8, capacity_l=5678.0, refill_minutes=15.0,
            operations=(Operation.BAND_NITROGEN,), pulled_by=("big", "small"), tender=("truck",), **wide,
        ),
        Machine(id="truck", kind=MachineKind.TENDER, road_speed_km_h=60.0),
        Machine(
            id="planter", kind=MachineKind.IMPLEMENT, speed_km_h=8.0, capacity_seeds=2.4e6, refill_minutes=20.0,
            operations=(Operation.PLANT,), pulled_by=("big", "small"), **wide,
        ),
    )  # fmt: skip


def products() -> tuple[Product, ...]:
    """Return a nitrogen solution, seed, and a spray with licence and re-entry interval."""
    return (
        Product(
            id="n32", form=Form.LIQUID, density_kg_per_l=1.33, nitrogen_share=0.32, stock="400000 L",
        ),
        Product(id="seed", form=Form.SEED, package="80000 seeds", stock="1000 bags"),
        Product(id="burn", form=Form.LIQUID, licence="applicator", reentry_hours=12.0, stock="5000 L"),
    )  # fmt: skip


def programme() -> Programme:
    """Return terminate, band, plant on the same lines, scout on foot."""
    return Programme(
        id="corn",
        crop="corn",
        passes=(
            PassSpec(
                id="terminate", operation=Operation.TERMINATE,
                products=(ProductRate(product="burn", rate="2 L/ha"),),
            ),
            PassSpec(
                id="band", operation=Operation.BAND_NITROGEN, after=(After(pass_id="terminate"),),
                products=(ProductRate(product="n32", rate="24 gal/ac"),),
            ),
            PassSpec(
                id="plant", operation=Operation.PLANT, same_lines_as="band",
                after=(After(pass_id="band", at_least_days=0.5, at_most_days=10.0),),
                products=(ProductRate(product="seed", rate="80000 seeds/ha"),),
            ),
            PassSpec(id="scout", operation=Operation.SCOUT, on_foot=True, after=(After(pass_id="plant", at_least_days=1.0),)),
        ),
    )  # fmt: skip


def fields(count: int = 3) -> tuple[Field, ...]:
    """Return fields of 20 to 40 ha, a few kilometres around the yard."""
    return tuple(
        Field(
            id=f"f{k + 1}", area_ha=20.0 + 7.0 * (k % 4), latitude_deg=41.0 + 0.02 * (k % 3),
            longitude_deg=-90.0 + 0.025 * (k // 3 + 1), crop=Crop.CORN, programme="corn", guidance_line=f"line {k + 1}",
        )
        for k in range(count)
    )  # fmt: skip


def farm(count: int = 3, **more: Any) -> Farm:
    """Return the farm of the tests; keyword arguments replace its parts."""
    parts: dict[str, Any] = {
        "name": "Test Farm",
        "time_zone": ZONE,
        "latitude_deg": 41.0,
        "longitude_deg": -90.0,
        "yards": (Yard(id="home", latitude_deg=41.0, longitude_deg=-90.0),),
        "fields": fields(count),
        "machines": machines(),
        "operators": (
            person("ann", "plant", "band-nitrogen", "tender"),
            person("bob", "terminate", "spray", "tender", "scout"),
            person("cy", "band-nitrogen", "plant", "scout", "tender"),
        ),
        "products": products(),
        "programmes": (programme(),),
        "price_per_t": {"corn": 170.0},
        "plan": PlanSettings(horizon_days=5, seconds=1.0),
    }
    parts.update(more)
    return Farm(**parts)


def situation(of: Farm, now: datetime | None = None, **more: Any) -> Situation:
    """Return the morning of the first day with nothing done; keyword arguments replace its parts."""
    parts: dict[str, Any] = {
        "passes": {
            (f.id, spec.id): PassState(
                finished=spec.id in f.done, done_ha=f.area_ha if spec.id in f.done else 0.0
            )
            for f in of.fields
            for spec in of.programme_of(f).passes
        },
        "supplies": {
            p.id: Supply(p.amount(p.stock), tuple((d.date, p.amount(d.amount), d.id) for d in p.deliveries))
            for p in of.products
        },
    }
    parts.update(more)
    return Situation(farm=of, now=now or at(0), **parts)


def with_pass(old: Situation, field_id: str, pass_id: str, **changes: Any) -> Situation:
    """Return a situation with one pass further on."""
    passes = dict(old.passes)
    passes[(field_id, pass_id)] = replace(passes[(field_id, pass_id)], **changes)
    return replace(old, passes=passes)


ChanceOf = Callable[[str, str, int, int], float]


def always(field_id: str, pass_id: str, day: int, hour: int) -> float:
    """Fit with odds of 0.9 from 7 to 20 o'clock."""
    return 0.9 if 7 <= hour < 20 else 0.0


def outlook(
    of: Farm,
    days: int = 5,
    chance: ChanceOf = always,
    windows: Mapping[tuple[str, str], PassWindow] | None = None,
    reason: Reason = Reason.TOO_WET,
    weeks: int = 0,
) -> Outlook:
    """Return an outlook whose odds are a function of field, pass, day and hour of the day."""
    span = horizon(days)
    start, end = span.origin_utc, span.end_utc
    hours = int((end - start) / timedelta(hours=1))
    keys = {(rig.load_class, rig.tracks) for rig in rigs_of(of)} | {(LoadClass.LIGHT, False)}
    fit, windows_out = {}, {}
    for f in of.fields:
        for spec in of.programme_of(f).passes:
            local = [(start + timedelta(hours=h)).astimezone(ZoneInfo(ZONE)) for h in range(hours)]
            odds = np.array([chance(f.id, spec.id, (x.date() - FIRST_DAY).days, x.hour) for x in local])
            members = (np.arange(10)[:, None] + 0.5) / 10 < odds[None, :]
            why = np.where(odds >= 0.5, REASONS.index(Reason.FIT), REASONS.index(reason))
            one = FitHours(odds, (members * 100).astype(np.uint8), why, np.where(odds >= 0.5, -1.0, 2.0))
            fit[(f.id, spec.id)] = dict.fromkeys(keys, one)
            windows_out[(f.id, spec.id)] = window_of(f, spec, days)
    windows_out.update(windows or {})
    nothing = np.zeros((1, hours))
    return Outlook(
        start_utc=start,
        first_day=FIRST_DAY,
        days=days,
        time_zone=ZONE,
        made_at=start,
        fit=fit,
        windows=windows_out,
        fields={},
        weather=HourlyWeather(start, nothing, nothing + 15.0, nothing + 60.0, nothing + 2.0, nothing),
        known_hours=hours,
        season_fit_share={op.value: np.full(weeks, 0.5) for op in Operation} if weeks else {},
    )


LOSS_PER_HA_DAY = {"terminate": 4.0, "band": 6.0, "plant": 14.0, "scout": 1.0}
UNDONE_PER_HA = {"terminate": 90.0, "band": 160.0, "plant": 400.0, "scout": 15.0}


def window_of(f: Field, spec: PassSpec, days: int) -> PassWindow:
    """Return a window whose loss grows evenly from the second day on; values are invented."""
    per_day = LOSS_PER_HA_DAY.get(spec.id, 3.0) * f.area_ha
    points = tuple((FIRST_DAY + timedelta(days=k), per_day * max(0, k - 1)) for k in range(days + 21))
    undone = max(UNDONE_PER_HA.get(spec.id, 50.0) * f.area_ha, points[-1][1])
    rule: WindowRule = spec.window
    return PassWindow(rule.first_date, rule.last_date, None, None, np.ones(days), points, undone)
