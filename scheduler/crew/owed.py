"""What a person did today by the hours it had, and nobody has reported yet: the plan has it no more, so the list asks for it."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from scheduler.crew.language import Words
from scheduler.crew.load_sheet import CrewRecord
from scheduler.crew.notes import pass_name
from scheduler.events.presumed import still_presumed
from scheduler.events.situation import Situation
from scheduler.planning.plan import Plan


class Owed(CrewRecord):
    """Work that the plan takes as done and that its driver has not reported.

    Attributes
    ----------
    block : str
        Id of its block in the plan that it stood in.
    """

    block: str
    field: str
    field_name: str
    pass_id: str
    job: str
    start: datetime
    end: datetime

    def text(self, words: Words) -> str:
        """Return it as a line: ``Plant corn in Heron, 07:00-11:15``."""
        hours = f"{words.clock(self.start)}-{words.clock(self.end)}"
        return words("{job} in {place}, {time}", job=self.job, place=self.field_name, time=hours)


def owed_by(
    plan: Plan, situation: Situation, operator: str, day: date, words: Words, but: set[tuple[str, str]]
) -> tuple[Owed, ...]:
    """Return what a person should report of a day; `but`: (field, pass) that stand on the list anyway."""
    farm, out = situation.farm, dict[tuple[str, str], Owed]()
    for one in still_presumed(plan.presumed, situation):
        key, spec = (one.field, one.pass_id), farm.spec(one.field, one.pass_id)
        if one.operator != operator or one.start.date() != day or key in but or spec is None:
            continue
        start = min(one.start, out[key].start) if key in out else one.start
        out[key] = Owed(
            block=one.block, field=one.field, field_name=farm.field_label(one.field), pass_id=one.pass_id,
            job=pass_name(spec, words), start=start, end=one.end,
        )  # fmt: skip
    return tuple(out.values())


def ask_first(
    plan: Plan, situation: Situation, field: str, pass_id: str, reader: str, words: Words
) -> tuple[str, ...]:
    """Return whom to ask before driving into a field: whoever is through there by the plan, and has not said so."""
    farm, out = situation.farm, dict[str, None]()
    line = "{job} here is over by the plan ({time}), but {name} has not reported it: ask before you drive in"
    for one in still_presumed(plan.presumed, situation):
        spec = farm.spec(one.field, one.pass_id)
        if (
            one.field == field
            and one.pass_id != pass_id
            and spec is not None
            and reader not in (one.operator, one.support)
        ):
            name, time = farm.operator_label(one.operator), words.clock(one.end)
            out[words(line, job=pass_name(spec, words), time=time, name=name)] = None
    return tuple(out)


def out_since(plan: Plan, situation: Situation, operator: str, leave: datetime) -> datetime:
    """Return since when a person is out that day: what was worked before the plan was made tires too.

    Reported hours are put right before, wherever they were.
    """
    mine = [one for one in plan.presumed if operator in (one.operator, one.support)]
    began = min([leave, *(one.start for one in mine if one.start.date() == leave.date())])
    return began - timedelta(minutes=situation.worked_minutes.get((operator, leave.date()), 0.0))
