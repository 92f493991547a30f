"""What a played spring comes to: areas, days, hours and money, counted day by day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from scheduler.events.situation import FieldPass, Situation
from scheduler.planning.costs import loss_at
from scheduler.planning.execute import Done
from scheduler.windows.records import PassWindow

SMALL_HA = 0.05
Windows = Mapping[FieldPass, PassWindow]


@dataclass
class Spring:
    """What came of a spring; areas in hectares, money in the farm's currency.

    Attributes
    ----------
    finished : mapping of pass to date
        Day on which the last hectare of a pass was done, for passes that were all done.
    left_ha : mapping of pass to area never done
    loss : mapping of part to money
        late, undone, wages, overtime, running, hire.
    hours, overtime : mapping of operator to hours
    fit_days, used_days : mapping of pass to days
    left_by_day : mapping of pass to area left at the end of each day
    """

    first_day: date
    days: int = 0
    finished: dict[str, date] = field(default_factory=dict)
    left_ha: dict[str, float] = field(default_factory=dict)
    loss: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    hours: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    overtime: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    fit_days: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    used_days: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    left_by_day: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    @property
    def total(self) -> float:
        """Sum of the loss."""
        return sum(self.loss.values())


def pay(spring: Spring, windows: Windows, done: list[Done], day: date, situation: Situation) -> None:
    """Count what a day's work cost, and what it lost by being late."""
    by_person: dict[str, float] = defaultdict(float)
    for one in done:
        block = one.block
        hours = (block.end - block.start) / timedelta(hours=1) - one.spare_h
        for name in filter(None, (block.operator, block.support)):
            by_person[name] += hours
        _late(spring, windows, one, day, situation)
        machines = [situation.farm.machine_by_id[name] for name in block.machines]
        worked = hours - one.lost_h
        cost = sum(m.cost_per_h * worked + m.cost_per_ha * one.area_ha for m in machines)
        spring.loss["running"] += cost
    for name, hours in by_person.items():
        person = situation.farm.operator_by_id[name]
        over = max(0.0, hours - person.normal_hours_per_day)
        spring.hours[name] += hours
        spring.overtime[name] += over
        spring.loss["wages"] += (hours - over) * person.wage_per_h
        spring.loss["overtime"] += over * person.wage_per_h * person.overtime_factor


def _late(spring: Spring, windows: Windows, one: Done, day: date, situation: Situation) -> None:
    window = windows.get((one.block.field, one.block.pass_id))
    if window is None or one.area_ha <= 0:
        return
    share = one.area_ha / situation.farm.field_by_id[one.block.field].area_ha
    spring.loss["late"] += loss_at(window, day) * share


def close(spring: Spring, windows: Windows, dropped: Collection[FieldPass], situation: Situation) -> None:
    """Count what was never done, and when passes were finished."""
    farm = situation.farm
    for (field_id, pass_id), state in situation.passes.items():
        window = windows.get((field_id, pass_id))
        left = situation.left_ha(field_id, pass_id)
        if (field_id, pass_id) in dropped:
            left = farm.field_by_id[field_id].area_ha - state.done_ha
        if left >= SMALL_HA and window is not None:
            spring.loss["undone"] += window.loss_undone * left / farm.field_by_id[field_id].area_ha
        if left >= SMALL_HA and not state.cancelled:
            spring.left_ha[pass_id] = spring.left_ha.get(pass_id, 0.0) + left
    for pass_id in {key[1] for key in situation.passes} - set(spring.left_ha):
        states = (state for key, state in situation.passes.items() if key[1] == pass_id)
        ends = [state.finished_at for state in states if state.finished_at is not None]
        if ends:
            spring.finished[pass_id] = max(ends).astimezone(ZoneInfo(farm.time_zone)).date()


def left_by_pass(situation: Situation) -> dict[str, float]:
    """Return the area left of each pass [ha]."""
    out: dict[str, float] = defaultdict(float)
    for key in situation.passes:
        out[key[1]] += situation.left_ha(*key)
    return out
