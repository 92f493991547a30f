"""What reports taught about the pace of machines, as people read it below a plan."""

from __future__ import annotations

from scheduler.events.situation import Situation
from scheduler.farm.learned_pace import LearnedPace

TOLD_FROM = 0.05
"""A pace that differs by less from the farm file is not told."""


def pace_notes(situation: Situation) -> tuple[str, ...]:
    """Return a sentence for each machine whose work takes longer or shorter than the farm file says."""
    farm = situation.farm
    return tuple(
        f"{farm.machine_label(name)} has taken {compared(one.reported)} than the farm file says ({_reports(one)});"
        f" {f'plans count on {compared(one.factor)}, give or take {one.sd:.0%}' if farm.plan.learn_pace else 'plans do not count on it (plan.learn_pace)'}"
        for name, one in situation.paces.items()
        if abs(one.factor - 1.0) >= TOLD_FROM
    )


def counted_on(situation: Situation) -> dict[str, float]:
    """Return by machine what plans count on: time over the time of the farm file; nothing where that is turned off."""
    if not situation.farm.plan.learn_pace:
        return {}
    return {name: round(one.factor, 3) for name, one in situation.paces.items()}


def compared(factor: float) -> str:
    """Return by how much something takes longer or shorter: `9% longer`."""
    return f"{abs(factor - 1.0):.0%} {'longer' if factor > 1 else 'less time'}"


def _reports(one: LearnedPace) -> str:
    return "1 report" if one.visits == 1 else f"{one.visits} reports"
