"""The ground as people ask for it: fit now or not and why, when next, how surely, for each kind of rig; water, rain, a map."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import cos, radians, sqrt
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.crew import pictures
from scheduler.crew.morning import next_pass
from scheduler.events.situation import FieldPass
from scheduler.web.charts import Trace, trace
from scheduler.web.views_passes import FieldPassLine, SeedChoice, pass_lines, seed_choice
from scheduler.windows.ledger import SECOND, best_fit
from scheduler.windows.records import FitHours, RigKey
from scheduler.wiring.boundaries import outlines
from scheduler.wiring.office import View
from scheduler.wiring.workspace import Workspace
from shared.units import show
from shared.vocabulary import Reason

FIT, MARGINAL = 0.5, 0.25
REASONS = list(Reason)
DAYS = 7


@dataclass(frozen=True)
class Verdict:
    """Whether a pass can run now with one kind of rig, and when it next can."""

    rig: str
    word: str
    chance_pct: int
    why: str
    next_at: str
    next_pct: int
    days: tuple[tuple[str, int, float], ...]


@dataclass(frozen=True)
class GroundLine:
    """A field, its next pass and the verdict for the best kind of rig."""

    id: str
    name: str
    area: str
    pass_id: str
    pass_name: str
    stage: str
    learned: str
    best: Verdict | None


def rows(view: View) -> list[GroundLine]:
    """Return every field of the farm with its next pass."""
    return [_line(view, field.id) for field in view.situation.farm.fields]


def _line(view: View, field_id: str) -> GroundLine:
    farm, outlook = view.situation.farm, view.outlook
    field, seen = farm.field_by_id[field_id], outlook.fields.get(field_id)
    due = next_pass(view.situation, outlook, field_id)
    hours = None if due is None else best_fit(outlook, (field_id, due))
    spec = None if due is None else farm.spec(field_id, due)
    left = field.area_ha if due is None else view.situation.left_ha(field_id, due)
    return GroundLine(
        field_id, field.label, show(left, "area_ha", farm.units, 0), due or "",
        "nothing left to do" if due is None else spec.label if spec is not None else due,
        "" if seen is None else seen.stage_now, "" if seen is None else seen.learned,
        None if hours is None else _verdict(view, hours, "", with_days=False),
    )  # fmt: skip


def _verdict(view: View, hours: FitHours, rig: str, with_days: bool) -> Verdict:
    outlook, zone = view.outlook, ZoneInfo(view.outlook.time_zone)
    now = min(max(0, int((view.made_at - outlook.start_utc) // timedelta(hours=1))), len(hours.chance) - 1)
    chance = float(hours.chance[now])
    good = np.nonzero(hours.chance[now:] >= FIT)[0]
    next_at, next_pct = "not in these days", 0
    if len(good):
        hour = now + int(good[0])
        moment = outlook.start_utc + timedelta(hours=hour)
        next_at = "now" if hour == now else f"{moment.astimezone(zone):%a %d %b %H:%M}"
        next_pct = round(100 * float(hours.chance[hour]))
    days = tuple(_day(view, hours, k) for k in range(min(DAYS, outlook.days))) if with_days else ()
    return Verdict(rig, _word(chance), round(100 * chance), _why(hours, now, chance), next_at, next_pct, days)


def _word(chance: float) -> str:
    return "fit" if chance >= FIT else "marginal" if chance >= MARGINAL else "unfit"


def _why(hours: FitHours, hour: int, chance: float) -> str:
    reason = REASONS[int(hours.reason[hour])]
    if chance >= FIT or reason is Reason.FIT:
        return ""
    return SECOND.get(reason, reason.value.replace("_", " "))


def _day(view: View, hours: FitHours, day: int) -> tuple[str, int, float]:
    a, b = 24 * day, min(24 * (day + 1), len(hours.chance))
    row = hours.chance[a:b]
    label = f"{view.outlook.first_day + timedelta(days=day):%a %d}"
    return label, round(100 * float(row.max(initial=0.0))), round(float(row.sum()), 1)


@dataclass(frozen=True)
class FieldPage:
    """One field in detail."""

    line: GroundLine
    verdicts: tuple[Verdict, ...]
    water: Trace
    passes: tuple[tuple[str, str], ...]
    checks: tuple[str, ...]
    programme: tuple[FieldPassLine, ...]
    seed: SeedChoice | None


def field_page(view: View, field_id: str) -> FieldPage:
    """Return what the page of a field shows."""
    line = _line(view, field_id)
    key: FieldPass = (field_id, line.pass_id)
    kinds = view.outlook.fit.get(key, {})
    verdicts = tuple(_verdict(view, hours, _rig_name(rig), with_days=True) for rig, hours in kinds.items())
    zone = ZoneInfo(view.outlook.time_zone)
    checks = tuple(
        f"{check.at.astimezone(zone):%a %d %b %H:%M}: {check.verdict.value}"
        for check in view.situation.checks if check.field_id == field_id
    )[-5:]  # fmt: skip
    farm = view.situation.farm
    passes = tuple(
        (pass_id, spec.label if (spec := farm.spec(field_id, pass_id)) is not None else pass_id)
        for (place, pass_id) in view.situation.passes if place == field_id and view.situation.left_ha(field_id, pass_id) > 0
    )  # fmt: skip
    field = farm.field_by_id[field_id]
    return FieldPage(
        line,
        verdicts,
        water(view, field_id),
        passes,
        checks,
        pass_lines(view, field),
        seed_choice(view.situation, field),
    )


def _rig_name(rig: RigKey) -> str:
    load, tracks = rig
    return load.value.replace("_", " ") + (", tracks" if tracks else "")


def water(view: View, field_id: str) -> Trace:
    """Return rain of the last two weeks and of the days ahead, with the wetness of the surface ahead (10, 50, 90 %)."""
    found = pictures.water(view.situation, view.outlook, view.observed, field_id)
    days = [
        (f"{day:%d}", rain, high)
        for day, rain, high in zip(found.days, found.rain_mm, found.high_mm, strict=True)
    ]
    return trace(days, found.past, np.array(found.wetness), view.situation.farm.units)


@dataclass(frozen=True)
class Patch:
    """A field on the map: its outline and where its name stands."""

    line: GroundLine
    points: str
    x: float
    y: float


@dataclass(frozen=True)
class FarmMap:
    """The farm from above, north up; a bar of known length."""

    width: float
    height: float
    patches: tuple[Patch, ...]
    yards: tuple[tuple[str, float, float], ...]
    bar_px: float
    bar_text: str


def farm_map(workspace: Workspace, lines: list[GroundLine]) -> FarmMap:
    """Return the farm's map from its boundaries; where a field has none, a square of its area."""
    farm, shapes = workspace.farm, outlines(workspace.folder)
    corners: dict[str, list[tuple[float, float]]] = {}
    for field in farm.fields:
        side = sqrt(field.area_ha * 1e4) / 2 / 111_320
        wide = side / max(0.1, cos(radians(field.latitude_deg)))
        lon, lat = field.longitude_deg, field.latitude_deg
        corners[field.id] = shapes.get(field.id) or [
            (lon - wide, lat - side), (lon + wide, lat - side), (lon + wide, lat + side), (lon - wide, lat + side),
        ]  # fmt: skip
    everything = [p for ring in corners.values() for p in ring] + [
        (y.longitude_deg, y.latitude_deg) for y in farm.yards
    ]
    west, east = min(x for x, _ in everything), max(x for x, _ in everything)
    south, north = min(y for _, y in everything), max(y for _, y in everything)
    squeeze = cos(radians((south + north) / 2))
    scale = 640 / max((east - west) * squeeze, (north - south), 1e-6)

    def at(lon: float, lat: float) -> tuple[float, float]:
        return round((lon - west) * squeeze * scale + 40, 1), round((north - lat) * scale + 30, 1)

    by_id = {line.id: line for line in lines}
    patches = []
    for name, ring in corners.items():
        points = [at(lon, lat) for lon, lat in ring]
        x = sum(p[0] for p in points) / len(points)
        # The name stands above its field, where it hides nothing.
        top = min(p[1] for p in points)
        patches.append(
            Patch(by_id[name], " ".join(f"{a},{b}" for a, b in points), round(x, 1), round(top - 5, 1))
        )
    km_px = scale / 111.32
    step = next(length for length in (0.5, 1, 2, 5, 10, 20, 50, 100) if length * km_px > 60 or length == 100)
    return FarmMap(
        round((east - west) * squeeze * scale + 80), round((north - south) * scale + 80), tuple(patches),
        tuple((yard.name or yard.id, *at(yard.longitude_deg, yard.latitude_deg)) for yard in farm.yards),
        round(step * km_px, 1), f"{step:g} km ({step * 0.621371:.1f} mi)",
    )  # fmt: skip
