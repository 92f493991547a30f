"""Can it be done by then? The plan that does it, its odds and what it costs; or what stands against it, and how near it comes.

Question answered: *what does a demand of the manager come to?* Pure: everything is planned on a copy, nothing is stored.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from scheduler.events.situation import LEAST_HA, Situation
from scheduler.events.state import State, fold
from scheduler.planning.demand_clash import Against, against
from scheduler.planning.demands import Demand, still_open, unmet
from scheduler.planning.odds import SMALL_SHARE, plan_odds
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.planning.schedule import make_plan
from scheduler.whatif.demand import read_demands, within
from scheduler.whatif.imagine import imagine
from scheduler.whatif.run import Morning, look
from scheduler.windows.records import FieldPass, Outlook

AGAINST_S = 5.0
Tell = Callable[[str], None]


@dataclass(frozen=True)
class Answer:
    """What a demand comes to.

    Attributes
    ----------
    demands, done, late : tuple of Demand
        All of them, those done already, and those that the plan does not keep.
    together : tuple of Demand
        Where not all can be kept: the most of them that one of the plans made here keeps.
    plan, without : Plan
        That keeps them, or comes as near as it can; and the one that would be made without them.
    cost : float
        What the plan costs more than the one without [money]; at least 0. Only where all is kept.
    chance : float or None
        Share of the weathers in which all of it is done by then; None where it is not kept.
    against : Against or None
        What stands against it.
    """

    demands: tuple[Demand, ...]
    done: tuple[Demand, ...]
    late: tuple[Demand, ...]
    situation: Situation
    plan: Plan
    without: Plan
    cost: float
    chance: float | None
    against: Against | None
    together: tuple[Demand, ...] = ()

    def blocks_of(self, demand: Demand) -> tuple[PlanBlock, ...]:
        """Return the blocks of a demanded pass."""
        return tuple(b for b in self.plan.blocks if (b.field, b.pass_id) == demand.key)


def can(
    morning: Morning, texts: Sequence[str], changes: tuple[str, ...] = (), tell: Tell | None = None
) -> Answer:
    """Return what demands come to, told in words, on a farm with changes.

    Parameters
    ----------
    texts : sequence of str
        See `whatif.demand`.
    changes : tuple of str
        Lines of a what-if that are true in every plan of the answer.
    tell : callable, optional
        Told what is worked out next.

    Raises
    ------
    ReportRefused
        A line makes no sense.
    """
    there = imagine(morning.farm, fold(State(), morning.records), morning.now, changes)
    asked = [one for text in texts for one in read_demands(text, there.situation, morning.now)]
    demands = within((*there.demands, *asked), morning.horizon)
    tell = tell or (lambda step: None)
    tell("ground and crops")
    there, outlook = look(morning, there)
    return _answer(morning, there.situation, outlook, demands, tell)


def _answer(
    morning: Morning, situation: Situation, outlook: Outlook, demands: tuple[Demand, ...], tell: Tell
) -> Answer:
    limits = morning.limits
    tell("plan without it")
    without = make_plan(situation, outlook, morning.horizon, limits, reasons=False)
    wanted = still_open(situation, demands)
    done = tuple(one for one in demands if one not in wanted)
    if not unmet(without, situation, wanted):
        chance = chance_of(without, situation, outlook, wanted)
        return Answer(demands, done, (), situation, without, without, 0.0, chance, None)
    start = without.model_copy(update={"fingerprint": ""})
    tell("plan with it")
    plan = make_plan(situation, outlook, morning.horizon, limits, start, reasons=False, demands=wanted)
    late = unmet(plan, situation, wanted)
    if not late:
        cost = max(0.0, plan.value.total - without.value.total)
        chance = chance_of(plan, situation, outlook, wanted)
        return Answer(demands, done, (), situation, plan, without, cost, chance, None)
    tell("what is against it")
    why = against(situation, outlook, morning.horizon, wanted, AGAINST_S)
    tell("as near as can be")
    if len(late) < len(unmet(without, situation, wanted)):
        # What a plan does in time that leaves out the rest: to be kept, with the rest behind it.
        start = plan.model_copy(update={"fingerprint": ""})
    near = make_plan(
        situation, outlook, morning.horizon, limits, start, reasons=False, demands=wanted, firm=False
    )
    near_late = unmet(near, situation, wanted)
    missed = min(late, near_late, unmet(without, situation, wanted), key=len)
    together = tuple(one for one in wanted if one not in missed)
    return Answer(demands, done, near_late, situation, near, without, 0.0, None, why, together)


def chance_of(plan: Plan, situation: Situation, outlook: Outlook, demands: Sequence[Demand]) -> float:
    """Return the share of the weathers in which all that is demanded is done by its time."""
    kept = np.ones(1, bool)
    for until in {demand.until for demand in demands}:
        odds = plan_odds(plan, situation, outlook, until)
        keys = {demand.key for demand in demands if demand.until == until}
        for block in plan.blocks:
            if (block.field, block.pass_id) in keys:
                kept = kept & (odds.done[block.id] >= 1 - SMALL_SHARE)
    return float(kept.mean())


def later_than_without(answer: Answer) -> list[tuple[FieldPass, datetime, datetime | None]]:
    """Return passes that the plan finishes at least a day later than the plan without the demands, dearest wait first.

    Returns
    -------
    list of (field and pass, end without, end or None)
        None: not within the days of the plan.
    """
    before, after = (_ends(plan, answer.situation) for plan in (answer.without, answer.plan))
    far = answer.without.made_at + timedelta(days=answer.without.days + 1)
    rows = [(key, end, after.get(key)) for key, end in before.items()]
    late = [row for row in rows if (row[2] or far) - row[1] >= timedelta(days=1)]
    return sorted(late, key=lambda row: row[1] - (row[2] or far))


def _ends(plan: Plan, situation: Situation) -> dict[FieldPass, datetime]:
    """Return when each pass is done, of those that a plan does wholly."""
    ends: dict[FieldPass, datetime] = {}
    area: dict[FieldPass, float] = defaultdict(float)
    for block in plan.blocks:
        key = block.field, block.pass_id
        area[key] += block.area_ha
        ends[key] = max(ends.get(key, block.end), block.end)
    return {key: end for key, end in ends.items() if area[key] >= situation.left_ha(*key) - LEAST_HA}
