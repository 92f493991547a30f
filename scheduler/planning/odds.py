"""A plan under every possible weather: what gets done, what it costs, and the odds of finishing.

Question answered: *if people work by this plan, how may it go?* For each member of the forecast the plan is worked hour by
hour: a block runs in its planned hours where ground and weather are fit and what comes first in the field is done; what is
left over is caught up in later fit hours in which the same rig and people are free, inside their working hours. The plan
itself is not made anew (tomorrow's will be), so these are odds of this plan and not of the season.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import Situation
from scheduler.farm.operator import Operator
from scheduler.farm.rig import rigs_of
from scheduler.planning.costs import loss_at
from scheduler.planning.execute import work_minutes
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.jobs import ON_FOOT
from scheduler.planning.plan import Plan, PlanBlock, Spread
from scheduler.planning.quarters import quarters_up
from scheduler.windows.records import Outlook, RigKey

SMALL_SHARE = 0.005
"""Rests below this share of a block count as done."""
WEEK_D = 7
"""What is left at the end of the days is counted as done a week later (assumption)."""


@dataclass(frozen=True)
class PlanOdds:
    """How a plan may go.

    Attributes
    ----------
    loss : float array (members,)
        Late and left-over work in each weather [money]; what does not depend on the weather is not in it.
    finished : mapping of pass to chance
        That all planned blocks of the pass are done within the days, for passes of which nothing is left out.
    done : mapping of block id to float array (members,)
        Share done.
    """

    loss: NDArray[np.float64]
    finished: Mapping[str, float]
    done: Mapping[str, NDArray[np.float64]]


def plan_odds(plan: Plan, situation: Situation, outlook: Outlook, until: datetime | None = None) -> PlanOdds:
    """Return how a plan may go over the members of its outlook, up to `until` (None: to the end of its days)."""
    game = _Game(plan, situation, outlook, until)
    members = game.members
    loss = np.zeros(members)
    done = {block.id: np.zeros(members) for block in plan.blocks}
    for member in range(members):
        shares, loss[member] = game.play(member)
        for name, share in shares.items():
            done[name][member] = share
    return PlanOdds(loss, _finished(plan, situation, done), done)


def with_odds(plan: Plan, situation: Situation, outlook: Outlook) -> Plan:
    """Return the plan with its odds of finishing and the spread of its loss."""
    if not plan.blocks:
        return plan
    odds = plan_odds(plan, situation, outlook)
    return plan.model_copy(update={"spread": spread_of(plan, odds), "finish_chance": dict(odds.finished)})


def spread_of(plan: Plan, odds: PlanOdds, aside: float = 0.0) -> Spread:
    """Return the loss over the members: what they make of the blocks, all that no weather changes, and `aside`."""
    # "risk" is the plan's own price of unfit ground; here the weathers themselves say what it costs.
    sure = sum(value for part, value in plan.value.parts.items() if part not in ("late", "risk"))
    loss = odds.loss + sure + aside
    low, high = np.quantile(loss, (0.1, 0.9))
    return Spread(
        expected=round(float(loss.mean()), 2), p10=round(float(low), 2), p90=round(float(high), 2), members=len(loss)
    )  # fmt: skip


def _finished(plan: Plan, situation: Situation, done: Mapping[str, NDArray[np.float64]]) -> dict[str, float]:
    planned: dict[tuple[str, str], float] = defaultdict(float)
    for block in plan.blocks:
        planned[(block.field, block.pass_id)] += block.area_ha
    out = {}
    for pass_id in dict.fromkeys(key[1] for key in situation.passes):
        keys = [key for key in situation.passes if key[1] == pass_id and situation.left_ha(*key) > 0.05]
        if not keys or any(planned[key] < situation.left_ha(*key) - 0.05 for key in keys):
            continue
        rows = [done[block.id] >= 1 - SMALL_SHARE for block in plan.blocks if block.pass_id == pass_id]
        out[pass_id] = float(np.all(rows, axis=0).mean())
    return out


class _Game:
    """A plan laid out by the hour."""

    def __init__(
        self, plan: Plan, situation: Situation, outlook: Outlook, until: datetime | None = None
    ) -> None:
        self.blocks = sorted(plan.blocks, key=lambda block: (block.start, block.id))
        self.start, self.zone = outlook.start_utc, ZoneInfo(outlook.time_zone)
        self.hours = int(outlook.days * 24 + 1)
        if until is not None:
            self.hours = min(self.hours, ceil((until - self.start) / timedelta(hours=1)))
        self.situation, self.first_day, self.days = situation, plan.first_day, plan.days
        rigs = {rig.id: (rig.load_class, rig.tracks) for rig in rigs_of(situation.farm)}
        self.fit = [self._fit(outlook, block, rigs.get(block.rig or "", ON_FOOT)) for block in self.blocks]
        self.members = max((rows.shape[0] for rows in self.fit), default=1)
        place = {block.id: k for k, block in enumerate(self.blocks)}
        self.waits = [[place[name] for name in block.waits_for if name in place] for block in self.blocks]
        self.windows = [outlook.windows.get((block.field, block.pass_id)) for block in self.blocks]
        self.crew = [
            (*block.machines, *filter(None, (block.operator, block.support))) for block in self.blocks
        ]
        self.rate = [block.area_ha / _work_h(block, situation) for block in self.blocks]
        self.planned: list[list[tuple[int, float]]] = [[] for _ in range(self.hours)]
        for k, block in enumerate(self.blocks):
            for hour, share in self._span(block):
                self.planned[hour].append((k, share))
        moments = [(self.start + timedelta(hours=h)).astimezone(self.zone) for h in range(self.hours)]
        self.day = [(moment.date() - plan.first_day).days for moment in moments]
        people = situation.farm.operator_by_id
        self.shift = {name: _shift_hours(person, moments) for name, person in people.items()}
        self.away = {name: self._away(name, moments) for name in people}

    @staticmethod
    def _fit(outlook: Outlook, block: PlanBlock, key: RigKey) -> NDArray[np.bool_]:
        row = fit_of(outlook, block.field, block.pass_id, key)
        return np.zeros((1, 1), bool) if row is None else row.fit

    def _span(self, block: PlanBlock) -> list[tuple[int, float]]:
        out, at = [], block.start
        while at < block.end:
            hour = int((at - self.start) // timedelta(hours=1))
            until = min(block.end, self.start + timedelta(hours=hour + 1))
            if 0 <= hour < self.hours:
                out.append((hour, _hours(at, until)))
            at = until
        return out

    def _away(self, name: str, moments: list[datetime]) -> NDArray[np.bool_]:
        spans = self.situation.operator_away.get(name, ())
        return np.array(
            [any(s.start <= m and (s.end is None or m < s.end) for s in spans) for m in moments], bool
        )

    def play(self, member: int) -> tuple[dict[str, float], float]:
        """Return the share done of every block, and the loss, in one weather."""
        left = [block.area_ha for block in self.blocks]
        used: dict[tuple[str, int], float] = defaultdict(float)
        loss, behind = 0.0, 0
        for hour in range(self.hours):
            busy: set[str] = set()
            for k, share in self.planned[hour]:
                if left[k] <= SMALL_SHARE * self.blocks[k].area_ha:
                    continue
                busy.update(self.crew[k])
                self._count_hours(used, k, hour, share)
                loss += self._work(k, hour, share, member, left)
            while behind < len(self.blocks) and self._ended(behind, hour):
                behind += 1
            for k in range(behind):
                if left[k] <= SMALL_SHARE * self.blocks[k].area_ha or not self._free(k, hour, busy, used):
                    continue
                before = left[k]
                loss += self._work(k, hour, 1.0, member, left)
                if left[k] < before:
                    busy.update(self.crew[k])
                    self._count_hours(used, k, hour, 1.0)
        end = self.days - 1 + WEEK_D
        for k, rest in enumerate(left):
            if rest > SMALL_SHARE * self.blocks[k].area_ha:
                loss += self._late(k, rest, end)
        return {block.id: 1 - left[k] / block.area_ha for k, block in enumerate(self.blocks)}, loss

    def _ended(self, k: int, hour: int) -> bool:
        return self.blocks[k].end <= self.start + timedelta(hours=hour)

    def _fits(self, k: int, hour: int, member: int) -> bool:
        rows = self.fit[k]
        return bool(hour < rows.shape[1] and rows[min(member, rows.shape[0] - 1), hour])

    def _work(self, k: int, hour: int, share: float, member: int, left: list[float]) -> float:
        """Work an hour's share of a block, if it can; return the loss of what got done."""
        if not self._fits(k, hour, member):
            return 0.0
        if any(left[w] > SMALL_SHARE * self.blocks[w].area_ha for w in self.waits[k]):
            return 0.0
        area = min(left[k], self.rate[k] * share)
        left[k] -= area
        return self._late(k, area, self.day[hour])

    def _late(self, k: int, area: float, day: int) -> float:
        window = self.windows[k]
        whole = self.situation.farm.field_by_id[self.blocks[k].field].area_ha
        return 0.0 if window is None else loss_at(window, self.first_day + timedelta(days=day)) * area / whole

    def _free(self, k: int, hour: int, busy: set[str], used: Mapping[tuple[str, int], float]) -> bool:
        if busy & set(self.crew[k]):
            return False
        for name in filter(None, (self.blocks[k].operator, self.blocks[k].support)):
            most = self.situation.farm.operator_by_id[name].most_hours_per_day
            if not self.shift[name][hour] or self.away[name][hour] or used[(name, self.day[hour])] + 1 > most:
                return False
        return True

    def _count_hours(self, used: dict[tuple[str, int], float], k: int, hour: int, share: float) -> None:
        for name in filter(None, (self.blocks[k].operator, self.blocks[k].support)):
            used[(name, self.day[hour])] += share


def _work_h(block: PlanBlock, situation: Situation) -> float:
    """Return the hours of work of a block, in whole quarters and no longer than the block."""
    worked = quarters_up(work_minutes(block, situation)) / PER_HOUR
    return max(1.0 / PER_HOUR, min(_hours(block.start, block.end), worked))


def _hours(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(hours=1)


def _shift_hours(person: Operator, moments: list[datetime]) -> NDArray[np.bool_]:
    out = np.zeros(len(moments), bool)
    for h, moment in enumerate(moments):
        shift = person.shift_on(moment.date())
        out[h] = shift is not None and shift.start <= moment.time() and moment.time() < shift.end
    return out
