"""When a person leaves the yard and is back: the ways before the first block and after the last."""

from __future__ import annotations

from datetime import datetime, timedelta

from scheduler.farm.farm import Farm
from scheduler.farm.land import Field, Yard
from scheduler.farm.operator import Operator
from scheduler.farm.rig import Rig
from scheduler.farm.roads import rig_width_m, road_minutes, width_on_road_m
from scheduler.planning.plan import PlanBlock


def first_yard(farm: Farm, person: Operator, rigs: dict[str, Rig], block: PlanBlock) -> Yard:
    rig = rigs.get(block.rig or "")
    if rig is None:
        return farm.yard_of(person)
    machine = rig.tender if block.support == person.id and rig.tender is not None else rig.power
    return farm.yard_of(machine)


def _speed(farm: Farm, rigs: dict[str, Rig], block: PlanBlock) -> float:
    rig = rigs.get(block.rig or "")
    return farm.plan.pickup_speed_km_h if rig is None else rig.road_speed_km_h


def _width(person: Operator, rigs: dict[str, Rig], block: PlanBlock) -> float:
    rig = rigs.get(block.rig or "")
    if rig is not None and block.support == person.id and rig.tender is not None:
        return width_on_road_m(rig.tender)
    return rig_width_m(rig)


def leaves_at(farm: Farm, person: Operator, rigs: dict[str, Rig], block: PlanBlock) -> datetime:
    """Return when to leave the yard; the plan leaves room for the road and the daily service before it."""
    field: Field = farm.field_by_id[block.field]
    width = _width(person, rigs, block)
    road = road_minutes(farm, first_yard(farm, person, rigs, block), field, _speed(farm, rigs, block), width)
    return _round_down(block.start - timedelta(minutes=road))


def home_at(farm: Farm, person: Operator, rigs: dict[str, Rig], block: PlanBlock) -> datetime:
    field, yard = farm.field_by_id[block.field], first_yard(farm, person, rigs, block)
    road = road_minutes(farm, field, yard, _speed(farm, rigs, block), _width(person, rigs, block))
    return block.end + timedelta(minutes=round(road))


def _round_down(moment: datetime, minutes: int = 5) -> datetime:
    return moment.replace(minute=moment.minute - moment.minute % minutes, second=0, microsecond=0)
