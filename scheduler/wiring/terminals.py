"""The issued plan as tasks for terminals: one task for a pass of a field and a person, with its rates."""

from __future__ import annotations

from datetime import date, timedelta
from importlib.metadata import version
from pathlib import Path

from adapters.taskdata import PlannedTask, Rate, TaskFile, TaskGround, write_taskdata
from scheduler.events.situation import Situation
from scheduler.farm.product import Form
from scheduler.farm.programme import PassSpec
from scheduler.planning.jobs import rate_factor
from scheduler.planning.plan import Plan, PlanBlock
from scheduler.wiring.boundaries import geometries
from scheduler.wiring.issued import day_shown
from scheduler.wiring.news import situation_now
from scheduler.wiring.workspace import Workspace
from shared.errors import FitgroundError


def write_tasks(
    workspace: Workspace, out: Path, wanted: date | None, days: int, today: date
) -> tuple[Path, int, list[str]]:
    """Write the tasks of some days.

    Parameters
    ----------
    wanted : date or None
        First day; default: today where the plan reaches it, else the plan's first day.

    Returns
    -------
    Path, int, list of str
        The file, how many tasks it holds, and what a person should know.

    Raises
    ------
    FitgroundError
        No plan was issued, or it holds no work with a machine on these days.
    """
    plan, first = day_shown(workspace, wanted, today)
    last = first + timedelta(days=days - 1)
    _, situation = situation_now(workspace, plan.made_at)
    tasks = planned_tasks(plan, situation, first, last)
    if not tasks:
        raise FitgroundError(
            f"the plan holds no work with a machine from {first} to {last}; its days: {plan.first_day} and the {plan.days - 1} after."
        )
    shapes = geometries(workspace.folder)
    used = [field for field in situation.farm.fields if any(task.field == field.id for task in tasks)]
    grounds = tuple(TaskGround(one.id, one.label, one.area_ha, shapes.get(one.id)) for one in used)
    bare = [one.name for one in grounds if one.geometry is None]
    notes = (
        [f"No outline is known of {', '.join(bare)}: the terminal gets name and area alone."] if bare else []
    )
    return (
        write_taskdata(TaskFile(situation.farm.name, grounds, tuple(tasks)), out, version("fitground")),
        len(tasks),
        notes,
    )


def planned_tasks(plan: Plan, situation: Situation, first: date, last: date) -> list[PlannedTask]:
    """Return the tasks of the days, in order of their first start; work on foot needs no terminal."""
    farm = situation.farm
    groups: dict[tuple[str, str, str], list[PlanBlock]] = {}
    for block in sorted(plan.blocks, key=lambda one: (one.start, one.id)):
        if block.rig is not None and first <= block.start.date() <= last:
            groups.setdefault((block.field, block.pass_id, block.operator), []).append(block)
    out = []
    for (field_id, pass_id, operator), blocks in groups.items():
        spec, field, person = (
            farm.spec(field_id, pass_id),
            farm.field_by_id[field_id],
            farm.operator_by_id.get(operator),
        )
        if spec is None:
            continue
        out.append(
            PlannedTask(
                f"{spec.label}: {field.label}", field_id, pass_id, person.label if person else operator, rates_of(situation, field_id, spec),
                tuple((block.start, block.end) for block in blocks),
            )
        )  # fmt: skip
    return out


def rates_of(situation: Situation, field_id: str, spec: PassSpec) -> tuple[Rate, ...]:
    """Return what the terminal sets: products at their rates; with a carrier, the mix as one volume."""
    farm, factor = situation.farm, rate_factor(situation, field_id, spec)
    found = []
    for item in spec.products:
        product = farm.product_by_id[item.product]
        rate = product.rate(item.rate) * (factor if product.nitrogen_share > 0 else 1.0)
        found.append(Rate(product.label, product.form.value, rate))
    liquids = [one for one in found if one.form == Form.LIQUID.value]
    if not spec.carrier_l_per_ha or not liquids:
        return tuple(found)
    mix = Rate(
        f"Mix: {' + '.join(one.product for one in liquids)}",
        Form.LIQUID.value,
        spec.carrier_l_per_ha + sum(one.per_ha for one in liquids),
    )
    return (mix, *(one for one in found if one.form != Form.LIQUID.value))
