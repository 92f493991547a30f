"""What was reported of a pass in a field, in one line for who goes there."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from scheduler.crew.language import Words
from scheduler.events.situation import PassState, Situation
from shared.units import to_people

LEAST_HA = 0.1


def told_line(situation: Situation, field: str, pass_id: str, words: Words) -> str:
    """Return how far a pass is by what was reported; nothing where nothing was."""
    farm = situation.farm
    state = situation.passes.get((field, pass_id), PassState())
    if state.finished:
        return words("Reported finished, {time}.", time=_when(state.finished_at, situation, words))
    if state.done_ha > LEAST_HA:
        done, unit = to_people(state.done_ha, "area_ha", farm.units)
        whole, _ = to_people(farm.field_by_id[field].area_ha, "area_ha", farm.units)
        line = "Reported so far: {done} of {whole} {unit} in this field."
        return words(line, done=words.number(done, 1), whole=words.number(whole, 1), unit=unit)
    if state.running is not None:
        return words("Reported begun, {time}.", time=_when(state.running.since, situation, words))
    return ""


def _when(moment: datetime | None, situation: Situation, words: Words) -> str:
    if moment is None:
        return words.day(situation.now.date())
    wall = moment.astimezone(ZoneInfo(situation.farm.time_zone))
    return f"{words.short_day(wall.date())} {words.clock(wall)}"
