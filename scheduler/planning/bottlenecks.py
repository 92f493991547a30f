"""What binds: rigs and people that work most of the hours in which they could, and causes behind work left out.

Question answered: *what would the season gain most from?* Input: a plan laid out as `Room`; output: sentences.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from scheduler.planning.calendars import Interval, machine_open
from scheduler.planning.plan import LeftOut
from scheduler.planning.quarters import MINUTES
from scheduler.planning.room import Room
from scheduler.planning.wording import Names, money
from shared.vocabulary import Reason

BUSY_SHARE = 0.6
PEOPLE_SHARE = 0.75
MOST = 5
MISSING_SHARE = 0.25
PER_HOUR = 60 / MINUTES
BEHIND = "earlier passes that come too late or not at all"


def binds(room: Room, left_out: tuple[LeftOut, ...]) -> tuple[str, ...]:
    """Return what holds the season back, strongest first."""
    said = sorted(_machines(room) + _people(room), reverse=True)
    sums: dict[str, float] = defaultdict(float)
    for row in left_out:
        sums[row.reason] += row.loss
    lines = [text for _, text in said]
    for reason, loss in sorted(sums.items(), key=lambda item: -item[1]):
        if loss >= 1:
            why = BEHIND if reason == Reason.WAITS_FOR_PASS else f"“{reason}”"
            lines.append(f"Left out because of {why}: work worth {money(loss)}.")
    return tuple(lines[:MOST])


def _machines(room: Room) -> list[tuple[float, str]]:
    """Return machines that work most of the hours in which some field is fit for them, or are missing in many of these."""
    names = Names(room.situation.farm)
    could: dict[str, np.ndarray] = {}  # type: ignore[type-arg]
    for task, infos in zip(room.compiled.problem.tasks, room.compiled.modes, strict=True):
        for mode, info in zip(task.modes, infos, strict=True):
            if info.option.rig is None:
                continue
            fit = could.setdefault(info.option.rig.worker.id, np.zeros(room.length, dtype=bool))
            for window in mode.windows or ():
                fit[max(window.start, task.release) : window.end] = True
    out = []
    # A machine without a name was never reported down.
    working = _hours_open(room, machine_open("", room.situation, room.compiled.grid))
    for name, fit in could.items():
        r = room.index[name]
        open_now = _hours_open(room, room.compiled.problem.resources[r].open or ())
        hours, missing = (
            float((fit & open_now).sum()) / PER_HOUR,
            float((fit & working & ~open_now).sum()) / PER_HOUR,
        )
        works = sum(block.end - block.start for block in room.entries[r]) / PER_HOUR
        if missing and missing >= MISSING_SHARE * (missing + hours):
            text = f"{names.machine(name)}: not there in {missing:.0f} of the {missing + hours:.0f} hours in which a field is fit for it."
            out.append((missing / (missing + hours), text))
        if hours > 0 and works / hours >= BUSY_SHARE:
            text = f"{names.machine(name)}: works {works:.0f} of the {hours:.0f} hours in which a field is fit for it."
            out.append((works / hours, text))
    return out


def _hours_open(room: Room, spans: Iterable[Interval]) -> NDArray[np.bool_]:
    """Return the quarter hours that lie in some span."""
    out = np.zeros(room.length, dtype=bool)
    for start, end in spans:
        out[start:end] = True
    return out


def _people(room: Room) -> list[tuple[float, str]]:
    """Return people who are at work most of the hours that they may."""
    names = Names(room.situation.farm)
    out = []
    for person in room.situation.farm.operators:
        r = room.index[person.id]
        resource = room.compiled.problem.resources[r]
        limit = resource.hours
        if limit is None:
            continue
        days = {
            d for d, (a, b) in enumerate(room.days) if any(x < b and y > a for x, y in resource.open or ())
        }
        may = sum(
            min(limit.most_per_week - limit.used_before[w], limit.most_per_day * len(days & set(week)))
            for w, week in enumerate(limit.weeks)
        )
        works = sum(span[1] - span[0] for day in room.days if (span := room.span(r, day)) is not None)
        if may > 0 and works / may >= PEOPLE_SHARE:
            text = f"{names.person(person.id)}: {works / PER_HOUR:.0f} of {may / PER_HOUR:.0f} hours that are allowed."
            out.append((works / may, text))
    return out
