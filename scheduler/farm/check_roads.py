"""Rows of the road table that contradict the map, each other or the machines."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.farm.farm import Farm, great_circle_km
from scheduler.farm.land import Field, Yard
from scheduler.farm.rig import rigs_of
from scheduler.farm.roads import way_km, width_on_road_m
from scheduler.farm.suggest import fault, unknown
from shared.errors import Fault
from shared.units import show

SHORTER_THAN_STRAIGHT = 0.95
"""A road is no shorter than the straight line; a twentieth is left for points that stand somewhere in a field."""
NEAR_KM = 0.5
"""Below this the points that stand for two fields say too little of the road between their gates."""


def roads(farm: Farm) -> Iterator[Fault]:
    """Yield the faults of ``roads.csv``."""
    places: dict[str, Field | Yard] = {yard.id: yard for yard in farm.yards} | dict(farm.field_by_id)
    seen: set[tuple[str, str]] = set()
    for yard in farm.yards if farm.roads else ():
        if yard.id in farm.field_by_id:
            yield fault(
                "road.0.from",
                yard.id,
                "is the id of a yard and of a field",
                "ids that are told apart where there is a table of roads",
            )
    for index, road in enumerate(farm.roads):
        key = f"road.{index}"
        known = True
        for name, end in (("from", road.from_id), ("to", road.to_id)):
            if end not in places:
                yield unknown(f"{key}.{name}", end, "yard or field", places)
                known = False
        if not known:
            continue
        if road.from_id == road.to_id:
            yield fault(f"{key}.to", road.to_id, "is where the road begins", "another yard or field")
            continue
        if (road.from_id, road.to_id) in seen:
            yield fault(f"{key}.to", road.to_id, "stands there twice", "each pair once")
        seen.add((road.from_id, road.to_id))
        straight = great_circle_km(places[road.from_id], places[road.to_id])
        for name, way in (("road", road.road_km), ("around", road.around_km)):
            if way is not None and straight > NEAR_KM and way < straight * SHORTER_THAN_STRAIGHT:
                said = show(straight, "distance_km", farm.units, 1)
                yield fault(f"{key}.{name}", show(way, "distance_km", farm.units, 1), "is shorter than the straight line", f"at least {said}")  # fmt: skip
        if road.widest_m is None and road.around_km is not None:
            yield fault(
                f"{key}.around",
                "",
                "is given, but nothing is too wide for this road",
                "widest beside it, or no around",
            )
    yield from _barred(farm) if farm.roads and not any(True for _ in _unknown_ends(farm, places)) else ()


def _unknown_ends(farm: Farm, places: dict[str, Field | Yard]) -> Iterator[str]:
    for road in farm.roads:
        yield from (end for end in (road.from_id, road.to_id) if end not in places)


def _barred(farm: Farm) -> Iterator[Fault]:
    """Say, as a warning, which machine cannot come to which field at all."""
    worked = {machine.id: machine for rig in rigs_of(farm) for machine in rig.machines}
    rows = {(road.from_id, road.to_id): index for index, road in enumerate(farm.roads)}
    for machine in worked.values():
        yard, width = farm.yard_of(machine), width_on_road_m(machine)
        for field in farm.fields:
            if way_km(farm, yard, field, width) is not None:
                continue
            index = rows.get((yard.id, field.id), rows.get((field.id, yard.id), 0))
            guess = (
                ""
                if machine.road_width_m is not None
                else "; its working width counts, since road_width is not said"
            )
            yield fault(
                f"road.{index}.widest", "", f"keeps {machine.label} ({show(width, 'length_m', farm.units, 1)} wide{guess}) from {field.label}",
                "a way around, or a machine that is narrow enough", warning=True,
            )  # fmt: skip
