"""Why a field is fit or not, hour by hour, as people read it: one line for as long as the same thing holds.

The ledger of stretches (`windows.ledger`) parts them where the odds change as well; here the odds are told as a range, and
nights in which nobody would look are no lines between two that say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from zoneinfo import ZoneInfo

from scheduler.events.situation import Situation
from scheduler.windows.ledger import BY_WINDOW, REASONS, SURE, chosen, clock, last_hour, sentence
from scheduler.windows.records import FitHours, Outlook, PassWindow
from shared.clock import Horizon
from shared.vocabulary import Reason

Run = tuple[int, int, Reason]
"""First hour, hour behind the last, and what holds."""


def why_lines(
    outlook: Outlook,
    situation: Situation,
    fields: Sequence[str] = (),
    passes: Sequence[str] = (),
    days: int = 7,
) -> list[str]:
    """Return a heading for each field, pass and kind of rig, and under it what holds from when to when."""
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    out: list[str] = []
    for key in chosen(outlook, situation, fields, passes):
        spec = situation.farm.spec(*key)
        job = key[1] if spec is None else spec.label
        for (load, tracks), hours in outlook.fit[key].items():
            rig = load.value + (", tracks" if tracks else "")
            out.append(f"{situation.farm.field_label(key[0])}: {job} ({rig})")
            runs = runs_of(hours, min(last_hour(horizon, days), len(hours.chance)))
            out += [f"  {_line(outlook, situation, outlook.windows[key], hours, run)}" for run in runs]
    return out


def runs_of(hours: FitHours, last: int) -> list[Run]:
    """Return the hours to come as runs of one reason; fit hours that are sure, and such that are not, stand apart."""
    out: list[tuple[int, int, Reason, bool]] = []
    for k in range(last):
        reason = REASONS[int(hours.reason[k])]
        sure = reason is Reason.FIT and float(hours.chance[k]) >= SURE
        if reason is Reason.PAST:
            continue
        if out and out[-1][1:] == (k, reason, sure):
            out[-1] = (out[-1][0], k + 1, reason, sure)
        else:
            out.append((k, k + 1, reason, sure))
    return _without_nights([run[:3] for run in out])


def _without_nights(runs: list[Run]) -> list[Run]:
    """Join what a window holds shut over the nights between, and with the night behind it."""
    out: list[Run] = []
    for run in runs:
        shut = len(out) > 1 and out[-1][2] is Reason.DARK and out[-2][2] in BY_WINDOW
        if shut and out[-2][2] is run[2]:
            out.pop()
            out[-1] = (out[-1][0], run[1], run[2])
        else:
            out.append(run)
    if len(out) > 1 and out[-1][2] is Reason.DARK and out[-2][2] in BY_WINDOW:
        night = out.pop()
        out[-1] = (out[-1][0], night[1], out[-1][2])
    return out


def _line(outlook: Outlook, situation: Situation, window: PassWindow, hours: FitHours, run: Run) -> str:
    start, end, reason = run
    zone = ZoneInfo(outlook.time_zone)
    since, until = ((outlook.start_utc + timedelta(hours=k)).astimezone(zone) for k in (start, end))
    chances = hours.chance[start:end]
    said = sentence(
        situation.farm, window, reason, (float(chances.min()), float(chances.max())),
        float(hours.margin_mm[start:end].max()), until, end >= len(hours.chance),
    )  # fmt: skip
    to = f"{until:%H:%M}" if until.date() == since.date() else clock(until)
    known = "" if end <= outlook.known_hours else " (past years)"
    return f"{clock(since)} to {to}: {said}{known}"
