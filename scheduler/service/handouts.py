"""What people get: each person's day list and the manager's morning page, for everybody or only whom a new plan touches."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from scheduler.crew.day_list import DayList, day_list
from scheduler.crew.language import Words
from scheduler.crew.page import morning_page
from scheduler.crew.paper import day_list_page
from scheduler.crew.plan_text import plan_text
from scheduler.crew.show import day_list_text
from scheduler.events.situation import Situation
from scheduler.planning.diff import Changes
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.windows.records import Outlook
from shared.parcel import Parcel

MANAGER = "all"
EVENING_H = 15
"""A plan made at or after this hour of the day is about tomorrow."""


def day_of(plan: Plan, now: datetime, zone: ZoneInfo) -> date:
    """Return the day that lists made at a moment are about: today, or tomorrow in the evening."""
    wall = now.astimezone(zone)
    return date.fromordinal(
        wall.date().toordinal() + (wall.hour >= EVENING_H and not _left(plan, now, wall.date()))
    )


def _left(plan: Plan, now: datetime, day: date) -> bool:
    return any(block.end > now for block in plan.of_day(day))


def hand_outs(
    plan: Plan, previous: Plan | None, situation: Situation, outlook: Outlook, changes: Changes | None, news: Sequence[str],
    whole: bool,
) -> tuple[Parcel, ...]:  # fmt: skip
    """Return the parcels of a plan.

    Parameters
    ----------
    previous : Plan or None
        The plan that people know.
    whole : bool
        For everybody; else only for those whose rest of the day is another one, and for the manager when anybody is.
    """
    now, farm = situation.now, situation.farm
    day = day_of(plan, now, ZoneInfo(farm.time_zone))
    out = []
    for person in farm.operators:
        if (
            whole
            or previous is None
            or _rest(plan, person.id, day, now) != _rest(previous, person.id, day, now)
        ):
            one = day_list(plan, situation, outlook, person.id, day, None if whole else previous)
            out.append(_parcel(plan, one, person.email, again=not whole))
    if out:
        out.insert(0, _for_manager(plan, situation, outlook, changes, news, day))
    return tuple(out)


def _rest(plan: Plan, person: str, day: date, now: datetime) -> list[tuple[object, ...]]:
    """Return what is left of a person's day; of work under way only its end counts."""
    blocks = [b for b in plan.of_operator(person) if b.start.date() == day and b.end > now]
    return [
        (b.field, b.pass_id, b.rig, b.operator == person, _start(b, now), b.end)
        for b in sorted(blocks, key=lambda b: b.start)
    ]


def _start(block: PlanBlock, now: datetime) -> datetime | None:
    return block.start if block.start > now else None


def _parcel(plan: Plan, one: DayList, address: str, again: bool) -> Parcel:
    words = Words(one.language)
    title = words("Day list") + f" {words.day(one.day)}, {one.name}"
    if again:
        title = words("Changed") + ": " + title
    data = one.model_dump(mode="json")
    return Parcel(
        f"{plan.id}/{one.operator}", one.operator, title, day_list_text(one), day_list_page([one]), one.day, address, data,
    )  # fmt: skip


def _for_manager(
    plan: Plan,
    situation: Situation,
    outlook: Outlook,
    changes: Changes | None,
    news: Sequence[str],
    day: date,
) -> Parcel:
    farm = situation.farm
    return Parcel(
        f"{plan.id}/{MANAGER}", MANAGER, f"{farm.name}: plan for {Words('en').day(day)}",
        plan_text(plan, farm, changes, news), morning_page(plan, situation, outlook, changes, news), day,
        data={"plan": plan.model_dump(mode="json"), "changes": changes.lines() if changes else [], "news": list(news)},
    )  # fmt: skip
