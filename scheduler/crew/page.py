"""The morning page: one self-contained HTML file that opens without a network, on a phone or on paper."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.crew.day_list import day_lists
from scheduler.crew.language import Words
from scheduler.crew.morning import (
    board,
    days_shown,
    ground,
    headline,
    odds_sentence,
    rain_days,
    value_sentence,
    waiting,
)
from scheduler.crew.paper import templates
from scheduler.crew.second import second_lines
from scheduler.crew.show import day_list_text
from scheduler.events.situation import Situation
from scheduler.planning.diff import Changes
from scheduler.planning.diff_groups import grouped
from scheduler.planning.left_groups import later_lines, left_out_lines
from scheduler.planning.plan import Plan
from scheduler.planning.worry_groups import gathered
from scheduler.windows.records import Outlook


def morning_page(
    plan: Plan, situation: Situation, outlook: Outlook, changes: Changes | None, news: Sequence[str]
) -> str:
    """Return the page of one morning.

    Parameters
    ----------
    plan : Plan
    situation : Situation
    outlook : Outlook
    changes : Changes or None
        Against the plan that people know; None where there is none.
    news : sequence of str
        Sentences: what was reported since the last plan.
    """
    words, farm, day = Words("en"), situation.farm, plan.first_day
    rain = rain_days(plan, outlook, farm.units)
    return templates().get_template("morning.html").render(
        plan=plan,
        farm=farm,
        words=words,
        day=day,
        days=days_shown(plan),
        headline=headline(plan, farm, len(changes.rows) if changes else 0, day, words),
        changes=grouped(changes),
        news=news,
        worries=gathered(plan.worries, farm),
        seconds=second_lines(plan, farm, words),
        left_out=left_out_lines(plan, farm),
        later=later_lines(plan, farm),
        board=board(plan, farm, words),
        ground=ground(plan, situation, outlook, words),
        waiting=waiting(plan, situation, outlook),
        rain=rain,
        rain_top=max([one.high for one in rain] + [0.1]),
        value=value_sentence(plan),
        odds=odds_sentence(plan, farm),
        lists=[(one.name, day_list_text(one)) for one in day_lists(plan, situation, outlook, day)],
        notes=tuple(dict.fromkeys((*outlook.notes, *plan.notes))),
    )  # fmt: skip
