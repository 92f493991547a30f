"""Fit hours as people ask for them: stretches of hours with their reason, and a table by field and day.

In: an outlook and the situation. Out: JSON-ready rows, each stretch with one line of text. Times are the farm's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from scheduler.events.situation import FieldPass, Situation
from scheduler.farm.farm import Farm
from scheduler.windows.records import FitHours, Outlook, PassWindow
from scheduler.windows.timing import spell
from shared.clock import Horizon
from shared.units import show
from shared.vocabulary import Fitness, Reason

REASONS = list(Reason)
GOOD, POSSIBLE = 0.5, 0.25
SURE = 0.75
"""From these odds on people call it fit, marginal, and sure (assumptions of wording only)."""
SECOND = {
    Reason.TOO_WET: "too wet", Reason.STICKY: "the skin is sticky after rain", Reason.RAINING: "rain",
    Reason.SUBSOIL_WET: "standing water or saturated below", Reason.DARK: "dark", Reason.DEW: "dew on the leaves",
    Reason.WIND_HIGH: "too windy", Reason.WIND_LOW: "too calm, an inversion is likely",
    Reason.AIR_COLD: "the air is too cold for the product", Reason.AIR_HOT: "the air is too hot for the product",
    Reason.RAIN_SOON: "rain is likely too soon after", Reason.SOIL_COLD: "the seed zone is too cold",
    Reason.FROZEN: "frozen or under snow", Reason.REENTRY: "nobody may go in yet after spraying",
    Reason.UNKNOWN_WEATHER: "the weather is not known",
}  # fmt: skip
BY_WINDOW = {
    Reason.TOO_EARLY_DATE, Reason.TOO_EARLY_STAGE, Reason.TOO_LATE_DATE, Reason.TOO_LATE_STAGE, Reason.CROP_TOO_TALL,
}  # fmt: skip


def best_fit(outlook: Outlook, key: FieldPass) -> FitHours | None:
    """Return the fit hours of the kind of rig with the best odds; None when no rig can do the pass."""
    kinds = outlook.fit.get(key, {})
    return max(kinds.values(), key=lambda hours: float(hours.chance.sum()), default=None)


def ledger(
    outlook: Outlook,
    situation: Situation,
    fields: Sequence[str] = (),
    passes: Sequence[str] = (),
    days: int = 7,
) -> list[dict[str, Any]]:
    """Return every stretch of equal verdict and reason, from now on.

    Returns
    -------
    list of dict
        ``field, field_name, pass, rig, from, to, fitness, reason, chance, margin_mm, text``; `rig` is the load class
        and ``tracks``, `chance` the mean over the stretch, `margin_mm` the median above (+) or below (-) the limit.
    """
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    rows: list[dict[str, Any]] = []
    for key in chosen(outlook, situation, fields, passes):
        field_id, pass_id = key
        field = situation.farm.field_by_id[field_id]
        name = f"{field.label}, {pass_id}"
        for (load, tracks), hours in outlook.fit[key].items():
            rig = load.value + (", tracks" if tracks else "")
            for start, end in _stretches(hours, last_hour(horizon, days)):
                rows.append(
                    {
                        "field": field_id, "field_name": field.label, "pass": pass_id, "rig": rig,
                        **_stretch(outlook, situation.farm, outlook.windows[key], hours, start, end, f"{name} ({rig})"),
                    }
                )  # fmt: skip
    return rows


def fit_table(
    outlook: Outlook,
    situation: Situation,
    fields: Sequence[str] = (),
    passes: Sequence[str] = (),
    days: int = 7,
) -> list[dict[str, Any]]:
    """Return one row per field, pass and day, for the kind of rig with the best odds.

    Returns
    -------
    list of dict
        ``field, field_name, pass, date, fit_hours`` (expected), ``chance`` (best hour), ``first_fit`` (clock of the
        first hour with even odds, or None), ``reason`` (main one against, over daylight hours), ``stage``,
        ``confidence`` (``forecast`` or ``past years``), ``opens, closes``.
    """
    horizon = Horizon(outlook.first_day, outlook.days, outlook.time_zone)
    zone = ZoneInfo(outlook.time_zone)
    rows = []
    for key in chosen(outlook, situation, fields, passes):
        hours = best_fit(outlook, key)
        window = outlook.windows[key]
        for k in range(min(days, outlook.days)):
            start, end = (minute // 60 for minute in horizon.day_interval(k))
            rows.append(
                {
                    "field": key[0],
                    "field_name": situation.farm.field_by_id[key[0]].label,
                    "pass": key[1],
                    "date": horizon.day(k).isoformat(),
                    **_day(outlook, hours, start, end, zone),
                    "stage": outlook.fields[key[0]].stage_now if key[0] in outlook.fields else "",
                    "confidence": "forecast" if end <= outlook.known_hours else "past years",
                    "opens": None if window.opens is None else window.opens.isoformat(),
                    "closes": None if window.closes is None else window.closes.isoformat(),
                }
            )
    return rows


def chosen(
    outlook: Outlook, situation: Situation, fields: Sequence[str], passes: Sequence[str]
) -> Iterator[FieldPass]:
    for key in outlook.windows:
        wanted = (not fields or key[0] in fields) and (not passes or key[1] in passes)
        if wanted and situation.left_ha(*key) > 0:
            yield key


def last_hour(horizon: Horizon, days: int) -> int:
    return horizon.day_interval(min(days, horizon.days) - 1)[1] // 60 if days > 0 else 0


def _day(outlook: Outlook, hours: FitHours | None, start: int, end: int, zone: ZoneInfo) -> dict[str, Any]:
    if hours is None:
        return {"fit_hours": 0.0, "chance": 0.0, "first_fit": None, "reason": Reason.NO_RIG.value}
    chance = hours.chance[start:end]
    hit = np.flatnonzero(chance >= GOOD)
    first = None if not hit.size else outlook.start_utc + timedelta(hours=start + int(hit[0]))
    return {
        "fit_hours": round(float(chance.sum()), 1),
        "chance": round(float(chance.max(initial=0.0)), 3),
        "first_fit": None if first is None else f"{first.astimezone(zone):%H:%M}",
        "reason": _main_reason(hours.reason[start:end], chance).value,
    }


def _main_reason(codes: NDArray[np.int_], chance: NDArray[np.float64]) -> Reason:
    """Return what speaks most against the day: darkness and past hours only where nothing else does."""
    against: list[Reason] = [
        REASONS[int(code)] for code, odds in zip(codes, chance, strict=True) if odds < GOOD
    ]
    real: list[Reason] = [
        reason for reason in against if reason not in (Reason.DARK, Reason.PAST, Reason.FIT)
    ] or against
    return max(real, key=real.count) if real else Reason.FIT


def _level(chance: float) -> Fitness:
    return Fitness.FIT if chance >= GOOD else Fitness.MARGINAL if chance >= POSSIBLE else Fitness.UNFIT


def _stretches(hours: FitHours, last: int) -> Iterator[tuple[int, int]]:
    """Yield first and end hour of every run of equal verdict and reason; past hours are left out."""
    past = REASONS.index(Reason.PAST)
    start = 0
    for k in range(1, min(last, len(hours.chance)) + 1):
        same = k < last and k < len(hours.chance)
        same = same and hours.reason[k] == hours.reason[start]
        same = same and _level(float(hours.chance[k])) is _level(float(hours.chance[start]))
        if not same:
            if hours.reason[start] != past:
                yield start, k
            start = k


def _stretch(
    outlook: Outlook, farm: Farm, window: PassWindow, hours: FitHours, start: int, end: int, name: str
) -> dict[str, Any]:
    zone = ZoneInfo(outlook.time_zone)
    since, until = ((outlook.start_utc + timedelta(hours=k)).astimezone(zone) for k in (start, end))
    chance = float(hours.chance[start:end].mean())
    reason = REASONS[int(hours.reason[start])]
    margin = (
        float(hours.margin_mm[start:end].max()) if reason is Reason.TOO_WET else float(hours.margin_mm[start])
    )
    said = sentence(farm, window, reason, (chance, chance), margin, until, end >= len(hours.chance))
    known = "" if end <= outlook.known_hours else " (past years)"
    return {
        "from": since.isoformat(),
        "to": until.isoformat(),
        "fitness": _level(float(hours.chance[start])).value,
        "reason": reason.value,
        "chance": round(chance, 3),
        "margin_mm": round(margin, 1),
        "text": f"{name}: {clock(since)} to {clock(until)}: {said}{known}",
    }


def clock(moment: datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b} {moment:%H:%M}"


def sentence(
    farm: Farm,
    window: PassWindow,
    reason: Reason,
    chances: tuple[float, float],
    margin_mm: float,
    until: datetime,
    to_the_end: bool,
) -> str:
    """Return what holds in a stretch, in words; `chances` are the least and the best odds in it."""
    least, best = (f"{chance:.0%}" for chance in chances)
    odds = f", odds {best}" if least == best else f", odds {least.removesuffix('%')} to {best}"
    if reason is Reason.FIT:
        return f"fit{odds}" + (", sure" if chances[0] >= SURE else "")
    if reason in BY_WINDOW:
        return _by_window(window, reason)
    odds = odds if chances[1] >= 0.05 else ""
    if reason is Reason.TOO_WET:
        how = f", up to {show(margin_mm, 'rain_mm', farm.units)} above the limit" if margin_mm > 0.05 else ""
        when = "" if to_the_end else f" until about {until:%a %H:%M}"
        return f"too wet{when}{how}{odds}"
    return SECOND.get(reason, reason.value) + odds


def _by_window(window: PassWindow, reason: Reason) -> str:
    """Return the window's own sentence about what holds it shut."""
    if reason in (Reason.TOO_EARLY_DATE, Reason.TOO_EARLY_STAGE):
        told = next((text for text in window.reasons if text.startswith("Opens")), "")
        when = f"; opens about {spell(window.opens)}" if window.opens is not None else ""
    else:
        told = next((text for text in window.reasons if text.startswith("Close")), "")
        when = f"; closed after {spell(window.closes)}" if window.closes is not None else ""
    return f"{reason.value}: {_lower(told)}".rstrip(".") if told else f"{reason.value}{when}"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def window_lines(outlook: Outlook, key: FieldPass) -> tuple[str, ...]:
    """Return the sentences about a pass's window."""
    window = outlook.windows.get(key)
    return () if window is None else window.reasons
