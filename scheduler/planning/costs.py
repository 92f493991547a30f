"""Money of a job: what being late costs, what never doing it costs, what an hour of the rig costs. In cents.

Question answered: *what does the engine weigh for this job?* Input: the job's pass window; output: a curve over
the time of its end, a price undone, a running cost per option.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from scheduler.farm.farm import PlanSettings
from scheduler.planning.jobs import Job, RigOption
from scheduler.planning.quarters import Quarters
from scheduler.solver.problem import Curve
from scheduler.windows.records import PassWindow

CENTS = 100.0
WHOLE_DAY_QUARTERS = 96.0
EARLY_PER_HA_DAY = 0.05
"""What a hectare done a day earlier is worth where no window presses: safety against what no forecast holds
(assumption of this project)."""


def share_left(job: Job) -> float:
    """Return the share of the field that the job covers: losses of a window are for the whole field."""
    return min(1.0, job.left_ha / job.field.area_ha)


def loss_curve(window: PassWindow | None, job: Job, grid: Quarters, now: int) -> Curve:
    """Return the loss of the job by the time of its end; a day's loss holds from the end of that day.

    A small price per hectare and day comes on top, so that among equals the earlier one wins.
    """
    share = share_left(job)
    early = EARLY_PER_HA_DAY * job.left_ha * CENTS / WHOLE_DAY_QUARTERS
    losses = () if window is None else window.loss_points
    known = [(grid.end_of(day), loss * share * CENTS) for day, loss in losses]
    slope = 0.0
    if len(known) > 1:
        (t0, c0), (t1, c1) = known[-2], known[-1]
        slope = max(0.0, (c1 - c0) / max(1, t1 - t0))
    at_now = 0.0
    if known:
        times, costs = zip(*known, strict=True)
        at_now = float(np.interp(now, times, costs)) + slope * max(0, now - times[-1])
    raised = [(now, at_now)] + [(t, c + early * (t - now)) for t, c in known if t > now]
    rising = np.maximum.accumulate([round(c) for _, c in raised])
    points = hull([(t, int(c)) for (t, _), c in zip(raised, rising, strict=True)])
    last = _slope(points[-2], points[-1]) if len(points) > 1 else 0.0
    return Curve(tuple(points), 0.0, max(slope + early, last))


def _slope(a: tuple[int, int], b: tuple[int, int]) -> float:
    return (b[1] - a[1]) / (b[0] - a[0])


def hull(points: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the points of the convex curve below: rounding to cents may bend a straight line back by a hair."""
    out: list[tuple[int, int]] = []
    for point in points:
        while len(out) > 1 and _slope(out[-2], out[-1]) >= _slope(out[-1], point):
            out.pop()
        out.append(point)
    return out


def drop_cost(window: PassWindow | None, job: Job) -> int:
    """Return what it costs to leave the whole job undone; at least a cent, so that doing it is never worth less."""
    loss = 0.0 if window is None else window.loss_undone
    return max(1, round(loss * share_left(job) * CENTS))


def running_cost(option: RigOption, left_ha: float) -> int:
    """Return fuel and wear of the rig for the whole job, and what its owner takes for the area."""
    if option.rig is None:
        return 0
    hours = (option.minutes + option.setup_minutes) / 60.0
    by_hour = sum(machine.cost_per_h for machine in option.rig.machines) * hours
    by_area = sum(machine.cost_per_ha for machine in option.rig.machines) * left_ha
    return round((by_hour + by_area) * CENTS)


def lost_quarter_cost(settings: PlanSettings) -> float:
    """Return what a planned quarter hour costs when it turns out unfit."""
    return settings.lost_hour_cost_per_h * CENTS / 4.0


def loss_at(window: PassWindow, day: date) -> float:
    """Return the loss of a whole field done at the end of a day, going on evenly behind the last known day."""
    if not window.loss_points:
        return 0.0
    days = np.array([(point - day).days for point, _ in window.loss_points], float)
    money = np.array([loss for _, loss in window.loss_points])
    if days[-1] < 0 and len(days) > 1:
        slope = max(0.0, (money[-1] - money[-2]) / max(1.0, days[-1] - days[-2]))
        return float(min(max(window.loss_undone, money[-1]), money[-1] - slope * days[-1]))
    return float(np.interp(0.0, days, money))
