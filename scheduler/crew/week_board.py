"""The week on one sheet for the wall: who works where on which day, and where each rig stands."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, timedelta

from scheduler.crew.language import Words
from scheduler.farm.farm import Farm
from scheduler.planning.plan import Plan, PlanBlock
from shared.board import Board, BoardRow
from shared.units import show

SURE = 0.5
"""Below these odds a block is marked with a question mark, since it may well not run."""


def week_board(plan: Plan, farm: Farm, first: date, days: int = 7, language: str = "en") -> Board:
    """Return the board of some days of a plan."""
    words, week = Words(language), [first + timedelta(days=k) for k in range(days)]
    people = [
        BoardRow(one.label, _cells(plan, week, lambda b, name=one.id: name in (b.operator, b.support), lambda b, name=one.id: _line(b, farm, words, b.support == name)))  # type: ignore[misc]
        for one in farm.operators
    ]  # fmt: skip
    rigs = [
        BoardRow(one.label, _cells(plan, week, lambda b, name=one.id: name in b.machines, lambda b: _line(b, farm, words, False, who=True)))  # type: ignore[misc]
        for one in farm.machines
        if any(one.id in block.machines for block in plan.blocks if block.start.date() in week)
    ]  # fmt: skip
    return Board(
        title=words("Week of {day}", day=words.day(first)), sub=words("{farm}. Plan of {day}, {clock}. A question mark: may well not run.", farm=farm.name, day=words.day(plan.made_at.date()), clock=words.clock(plan.made_at)),
        columns=tuple(words.short_day(day) for day in week), parts=((words("People"), tuple(people)), (words("Machines"), tuple(rigs))),
        foot=words("The plan advises. Labels, local law and licensed people decide."),
    )  # fmt: skip


def _cells(
    plan: Plan, week: Iterable[date], mine: Callable[[PlanBlock], bool], line: Callable[[PlanBlock], str]
) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(line(block) for block in plan.of_day(day) if mine(block)) for day in week)


def _line(block: PlanBlock, farm: Farm, words: Words, helps: bool, who: bool = False) -> str:
    field, spec = farm.field_by_id.get(block.field), farm.spec(block.field, block.pass_id)
    what = spec.label if spec is not None else block.pass_id
    person = farm.operator_by_id.get(block.operator)
    said = (
        (person.label if person else block.operator)
        if who
        else words("tender for {job}", job=what)
        if helps
        else what
    )
    doubt = "? " if block.chance < SURE and not block.under_way else ""
    area = show(block.area_ha, "area_ha", farm.units, 0)
    return f"{doubt}{words.clock(block.start)}-{words.clock(block.end)} {field.label if field else block.field}: {said}, {area}"
