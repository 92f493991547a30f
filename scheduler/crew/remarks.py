"""What stands below a job on every form of a day list: the same words on screen, phone, paper and page.

Question answered: *what must a person know in this field besides time, rig and loads?*
"""

from __future__ import annotations

from typing import NamedTuple

from scheduler.crew.language import Words
from scheduler.crew.load_sheet import LoadLine
from scheduler.crew.stop import SUPPORT, Stop
from scheduler.planning.plan import LOOK_FIRST

HAZARD, ODDS, WAIT, TOLD, NOTE = "hazard", "odds", "wait", "told", "note"


class Remark(NamedTuple):
    """A line and what it is: `HAZARD`, `ODDS`, `WAIT`, `TOLD` or `NOTE`."""

    kind: str
    text: str


def remarks(stop: Stop, words: Words) -> list[Remark]:
    """Return the remarks of a job, what was told of it first, then what can hurt."""
    out = [Remark(TOLD, stop.told)] if stop.told else []
    out += [Remark(WAIT, stop.clean_out)] if stop.clean_out else []
    if stop.guidance_line:
        out.append(Remark(NOTE, words("Guidance line: {line}", line=stop.guidance_line)))
    out += [Remark(HAZARD, text) for text in stop.hazards]
    if stop.chance < LOOK_FIRST:
        chance = f"{stop.chance:.0%}"[:-1]
        line = "Odds that the ground is fit: {chance} %. Check before you drive in."
        out.append(Remark(ODDS, words(line, chance=chance)))
        if stop.second is not None:
            out.append(Remark(ODDS, stop.second.text))
            out += [Remark(HAZARD, text) for text in stop.second.hazards]
            out += [Remark(WAIT, text) for text in stop.second.notes]
    out += [Remark(NOTE, stop.field_note)] if stop.field_note else []
    return out + [Remark(WAIT, text) for text in (*stop.handed, *stop.waits_for, *stop.waited_for_by)]


def role_name(stop: Stop, words: Words) -> str:
    """Return what the person does there: the job, or the tender of somebody else's."""
    return words("tender") if stop.role == SUPPORT else stop.job


def load_rest(line: LoadLine) -> str:
    """Return amount, loads and nitrogen of a product."""
    return "; ".join(part for part in (line.amount_text, line.load_text, line.nitrogen_text) if part)
