"""The answer to *can it be done by then?* in sentences, for a screen, a page or a program."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from textwrap import wrap
from typing import Any

from scheduler.events.situation import LEAST_HA
from scheduler.planning.demands import Demand
from scheduler.planning.plan import PlanBlock
from scheduler.planning.wording import Names, by_text, first_few, listed, money, when
from scheduler.whatif.can import Answer, later_than_without
from scheduler.whatif.tell import SAME, WIDTH

SHOWN, HELPS, NAMED = 8, 2, 12
FAR = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Told:
    """An answer in sentences.

    Attributes
    ----------
    asked : tuple of str
        The questions, one for each pass and time.
    verdict, done, together, cost : str
        Yes or no and how surely; what is done already; how much of it can be done together; what it costs.
    blocks : tuple of (bool, str)
        Work in the fields asked for, and whether it is what was asked for; empty where it cannot be done.
    later, against, near, helps : tuple of str
        What is later for it; what stands against it; how near it comes; changes to ask again with.
    """

    asked: tuple[str, ...]
    verdict: str
    done: str = ""
    together: str = ""
    blocks: tuple[tuple[bool, str], ...] = ()
    cost: str = ""
    later: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    all_needed: bool = False
    near: tuple[str, ...] = ()
    helps: tuple[str, ...] = ()


def told(answer: Answer) -> Told:
    """Return an answer in sentences."""
    names = Names(answer.situation.farm)
    done = _done(answer, names)
    asked, why = _asked(answer, names), answer.against
    if why is not None:
        return Told(
            asked, _no(answer), done, _together(answer, names), against=why.lines, all_needed=why.smallest, near=_near(answer, names), helps=helps(answer)
        )  # fmt: skip
    if len(answer.done) == len(answer.demands):
        return Told(asked, "Nothing is left to do.", done)
    least = answer.situation.farm.plan.fit_chance_least
    verdict = f"YES, in hours with odds of {least:.0%} or more. All of it is done by then in {answer.chance:.0%} of the weathers."
    return Told(asked, verdict, done, "", _blocks(answer, names), _cost(answer), _later(answer, names))


def _done(answer: Answer, names: Names) -> str:
    """Return what of the demanded is done: by the reports, and by the hours it had."""
    presumed = [one for one in answer.done if one.key in answer.situation.presumed]
    told = [one for one in answer.done if one not in presumed]
    said = [f"Done already: {listed(_job(one, names) for one in told)}."] if told else []
    if presumed:
        jobs = listed(_job(one, names) for one in presumed)
        said.append(f"Taken as done, since its hours are over and nobody has reported yet: {jobs}.")
    return " ".join(said)


def can_text(answer: Answer, as_of: str) -> str:
    """Return the answer for a screen."""
    said = told(answer)
    out = [*_wrapped(said.asked), "=" * WIDTH, as_of, "", *_wrapped([said.done, said.verdict])]
    if said.against:
        out += ["", *_wrapped([f"- {line}" for line in said.against], 2)]
        if said.all_needed:
            out += ["", "Each of them is needed: without any one of them it could be done."]
    if said.together:
        out += ["", *_wrapped([said.together])]
    if said.near:
        out += ["", "As near as a plan comes that makes as little of it late as can be:"]
        out += _wrapped(said.near, 2)
    if said.helps:
        out += ["", "What might help; ask again with one of these:"]
        out += [f"  --with {shlex.quote(line)}" for line in said.helps]
    if said.blocks:
        out += ["", *_wrapped([f"{'*' if asked else ' '} {line}" for asked, line in said.blocks], 1)]
        if not all(asked for asked, _ in said.blocks):
            out += ["", "* is what was asked for; the rest comes before it in the same fields."]
        out += ["", said.cost]
    if said.later:
        out += ["Later than without it:", *_wrapped(said.later, 2)]
    return "\n".join([*out, "", "fitground advises; people decide.", ""])


def can_json(answer: Answer) -> dict[str, Any]:
    """Return the answer for programs; areas in hectares, times with their offset."""
    why = answer.against
    return {
        "can": why is None,
        "chance": answer.chance,
        "costs": round(answer.cost, 2) if why is None else None,
        "demands": [
            {
                "field": demand.field, "pass_id": demand.pass_id, "by": demand.until.isoformat(),
                "done_already": demand in answer.done, "in_time": demand not in answer.late,
                "ends": max((block.end.isoformat() for block in answer.blocks_of(demand)), default=None),
            }
            for demand in answer.demands
        ],
        "against": None if why is None else {"rules": list(why.lines), "proved": why.proved, "all_needed": why.smallest},
        "helps": list(helps(answer)),
        "blocks": [
            block.model_dump(
                mode="json",
                include={"field", "pass_id", "start", "end", "rig", "operator", "support", "area_ha", "chance"},
            )
            for block in answer.plan.blocks
        ],
    }  # fmt: skip


# ---- parts -----------------------------------------------------------------------------------------------


def _asked(answer: Answer, names: Names) -> tuple[str, ...]:
    asked: dict[tuple[str, datetime], list[str]] = {}
    for demand in answer.demands:
        key = names.job(demand.field, demand.pass_id), demand.until
        asked.setdefault(key, []).append(names.field(demand.field))
    return tuple(
        f"{label} in {_places(fields)} by {by_text(until)}?" for (label, until), fields in asked.items()
    )


def _places(fields: Sequence[str]) -> str:
    """Name fields; of many their count, and some of them."""
    return listed(fields) if len(fields) <= NAMED else f"{len(fields)} fields ({first_few(fields, SHOWN)})"


def _no(answer: Answer) -> str:
    why = answer.against
    if why is None or not why.lines:
        return "NOT FOUND: no plan was found that does all of it by then; that is no proof, and a longer search may find one."
    what = "These cannot hold together:" if len(why.lines) > 1 else "This stands against it:"
    if why.proved:
        return f"NO. No plan does all of it by then: that is proved. {what}"
    return f"NO. No plan was found that does all of it by then (that is no proof). {what}"


def _blocks(answer: Answer, names: Names) -> tuple[tuple[bool, str], ...]:
    """Return what is asked for and, with it, what it waits for in its fields; the asked-for marked."""
    wanted = {demand.key for demand in answer.demands}
    last = max(demand.until for demand in answer.demands)
    by_id = {block.id: block for block in answer.plan.blocks}
    needed = {one.id for one in by_id.values() if (one.field, one.pass_id) in wanted and one.end <= last}
    behind = list(needed)
    while behind:
        before = {name for name in by_id[behind.pop()].waits_for if name in by_id} - needed
        needed |= before
        behind += before
    return tuple(
        ((one.field, one.pass_id) in wanted, _line(one, names))
        for one in answer.plan.blocks
        if one.id in needed
    )


def _line(block: PlanBlock, names: Names) -> str:
    who = listed(names.person(name) for name in (block.operator, block.support) if name)
    job = (
        f"{names.job(block.field, block.pass_id)} in {names.field(block.field)}, {names.area(block.area_ha)}"
    )
    rig = names.machines(block.machines)
    return f"{when(block.start)}-{block.end:%H:%M}  {job}: {rig}, {who} (fit {block.chance:.0%})"


def _cost(answer: Answer) -> str:
    if answer.cost < SAME:
        return "It costs nothing: the best plan found does it anyway."
    return f"It costs {money(answer.cost)} more than the best plan found without it."


def _later(answer: Answer, names: Names) -> tuple[str, ...]:
    rows = later_than_without(answer)
    lines = [
        f"{names.job(field, name)} in {names.field(field)}: {when(before)} -> {'not in these days' if after is None else when(after)}"
        for (field, name), before, after in rows[:SHOWN]
    ]
    return (*lines, f"and {len(rows) - SHOWN} more") if len(rows) > SHOWN else tuple(lines)


def _together(answer: Answer, names: Names) -> str:
    asked = len(answer.demands) - len(answer.done)
    if asked < 2:
        return ""
    if not answer.together:
        return f"No plan was found that does any of the {asked} in time."
    which = f" ({listed(_job(d, names) for d in answer.together)})" if asked <= NAMED else ""
    return f"In time together, as far as was found: {len(answer.together)} of {asked}{which}."


def _near(answer: Answer, names: Names) -> tuple[str, ...]:
    left = [demand for demand in answer.demands if demand not in answer.done]
    if len(left) <= NAMED:
        return tuple(f"{_job(demand, names)}: {_end(answer, demand)}" for demand in left)
    ends = sorted((_ended(answer, demand) or FAR, k) for k, demand in enumerate(left))
    groups: dict[tuple[str, str], list[str]] = {}
    for end, k in ends:
        told = (
            "not in these days"
            if end == FAR
            else "in time"
            if left[k] not in answer.late
            else f"on {end:%a} {end.day} {end:%b}"
        )
        groups.setdefault((names.job(left[k].field, left[k].pass_id), told), []).append(
            names.field(left[k].field)
        )
    jobs = list(dict.fromkeys(job for job, _ in groups))
    return tuple(
        f"{job} {told} ({len(fields)}): {listed(fields)}"
        for job in jobs for (of, told), fields in groups.items() if of == job
    )  # fmt: skip


def _ended(answer: Answer, demand: Demand) -> datetime | None:
    """Return when all of it is done; None where it is not within the days of the plan."""
    blocks = answer.blocks_of(demand)
    if sum(block.area_ha for block in blocks) < answer.situation.left_ha(*demand.key) - LEAST_HA:
        return None
    return max(block.end for block in blocks)


def _end(answer: Answer, demand: Demand) -> str:
    end = _ended(answer, demand)
    if end is None:
        return "not in these days"
    if demand not in answer.late:
        return f"{when(end)}, in time"
    hours = (end - demand.until).total_seconds() / 3600
    return f"{when(end)}, {f'{hours / 24:.1f} days' if hours >= 36 else f'{hours:.0f} h'} late"


def helps(answer: Answer) -> tuple[str, ...]:
    """Return changes of a what-if that loosen what stands against it, the cheapest kind first."""
    farm, things = answer.situation.farm, answer.against.things if answer.against else ()
    people = [(kind, name) for kind, name in things if name in farm.operator_by_id]
    machines = [name for kind, name in things if kind == "capacity" and name in farm.machine_by_id]
    out = ['longer all "2 h"'] if any(kind in ("open", "hours") for kind, _ in people) else []
    out += [f'join "One more" like {name}' for kind, name in people if kind == "capacity"][:1]
    return (*out, *(f'hire "Second {name}" like {name}' for name in machines[:HELPS]))


def _job(demand: Demand, names: Names) -> str:
    return f"{names.job(demand.field, demand.pass_id)} in {names.field(demand.field)}"


def _wrapped(lines: Sequence[str], indent: int = 0) -> list[str]:
    pad = " " * indent
    return [
        row
        for line in lines
        if line
        for row in wrap(line, WIDTH, initial_indent=pad, subsequent_indent=f"{pad}  ")
    ]
