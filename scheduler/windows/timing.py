"""The window of a pass in a field: from date, stage, height and lag to planting, with odds and reasons in sentences.

In: the farm's rule over the default table, the crop's odds, clearances. Out: `PassWindow` and the chance of being inside
by member and day, for every clearance asked for. Soil temperature is judged by the hour with the ground, not here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from scheduler.stages import PassTiming, WindowOdds, default_timing, open_window
from scheduler.stages.names import scale_for
from scheduler.windows.crop import SEASON_D, CropView
from scheduler.windows.losses import loss_of
from scheduler.windows.records import PassWindow
from shared.units import show
from shared.vocabulary import Reason

EARLY = (Reason.TOO_EARLY_DATE, Reason.TOO_EARLY_STAGE)
LATE = (Reason.TOO_LATE_DATE, Reason.TOO_LATE_STAGE, Reason.CROP_TOO_TALL)
REASONS = list(Reason)
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DayOdds:
    """Chance (members or 1, days) of being inside the window, and the reason code (days,) where it is not."""

    chance: Floats
    reason: NDArray[np.int_]


@dataclass(frozen=True)
class Judged:
    """The window of a pass and its odds by clearance (None: no clearance counts)."""

    window: PassWindow
    by_clearance: dict[float | None, DayOdds]


def timings_of(field: Field, spec: PassSpec) -> tuple[PassTiming, ...]:
    """Return the rules that hold for a pass: one per job of the trip, the farm's own window over the first."""
    crop, rule = field.crop.value, spec.window
    first = default_timing(spec.operation.value, crop, rule.variant)
    changes: dict[str, Any] = {}
    for mine, theirs in (
        ("stage_from",) * 2,
        ("stage_to",) * 2,
        ("ideal_stage_from",) * 2,
        ("ideal_stage_to",) * 2,
    ):
        if getattr(rule, mine) is not None:
            changes[theirs] = getattr(rule, mine)
    for mine, theirs in (
        ("first_date", "date_from"), ("last_date", "date_to"), ("ideal_from", "ideal_from"), ("ideal_to", "ideal_to"),
    ):  # fmt: skip
        day = getattr(rule, mine)
        if day is not None:
            changes[theirs] = (day.month, day.day)
    if rule.crop_height_most_m is not None:
        changes["max_height_m"] = rule.crop_height_most_m
    first = first.with_changes(**_with_room(first, changes))
    rest = [default_timing(op.value, crop).with_changes(soil_temp_min_c=None) for op in spec.operations[1:]]
    return (first.with_changes(soil_temp_min_c=None), *rest)


def _with_room(default: PassTiming, changes: dict[str, Any]) -> dict[str, Any]:
    """Lift the parts of the default that would contradict what the farm sets."""
    out = dict(changes)
    if "stage_from" in changes or "stage_to" in changes:
        out.setdefault("ideal_stage_from", None)
        out.setdefault("ideal_stage_to", None)
        for name in ("stage_from", "stage_to"):
            if name not in changes:
                out[name] = _compatible_stage(default, changes, name)
    for low, high in (("date_from", "date_to"), ("ideal_from", "ideal_to")):
        first = out.get(low, getattr(default, low))
        last = out.get(high, getattr(default, high))
        if first is not None and last is not None and first > last:
            out.setdefault(low, None)
            out.setdefault(high, None)
    return out


def _compatible_stage(default: PassTiming, changes: dict[str, Any], name: str) -> str | None:
    own: str | None = getattr(default, name)
    if own is None:
        return None
    scale = scale_for(default.crop)
    if name == "stage_from":
        return own if scale.parse(own) <= scale.parse(changes["stage_to"]) else None
    return own if scale.parse(own) >= scale.parse(changes["stage_from"]) else None


Kept = dict[tuple[tuple[PassTiming, ...], int, float | None], tuple[list[WindowOdds], DayOdds]]
"""Rules, crop view (by identity) and clearance -> odds; of one moment and horizon."""


def judge_window(
    farm: Farm, field: Field, spec: PassSpec, crop: CropView,
    first_day: date, days: int, clearances: Sequence[float | None], kept: Kept,
) -> Judged:  # fmt: skip
    """Return the window of a pass and its odds for every clearance [m].

    Parameters
    ----------
    kept : dict
        Odds that were worked out for fields with the very same crop view; new ones are put there.
    """
    season = min(SEASON_D, (crop.stage.first_day - first_day).days + crop.stage.days)
    timings = timings_of(field, spec)
    best = max(clearances, key=lambda c: float("inf") if c is None else c, default=None)
    by_clearance, shown = {}, None
    for clearance in dict.fromkeys([*clearances, best]):
        key = (timings, id(crop), clearance)
        told = kept.get(key)
        if told is None:
            found = [_odds(timing, crop, first_day, season, clearance) for timing in timings]
            told = kept[key] = (found, _days(found, days))
        odds, by_clearance[clearance] = told
        if clearance == best:
            shown = odds
    assert shown is not None
    window = _window(farm, field, spec, crop, shown, by_clearance[best], (first_day, days), best)
    return Judged(window, by_clearance)


def _odds(
    timing: PassTiming, crop: CropView, first_day: date, season: int, clearance: float | None
) -> WindowOdds:
    bound = timing.needs_stage or timing.max_height_m is not None or clearance is not None
    starts = timing.stage_from is not None and not _from_planting(timing)
    # Before planting there is no crop to be early, late or too tall for; only what needs plants waits for them.
    stage = crop.stage if bound and (not crop.assumed or starts) else None
    # The known planting day binds; an assumed one does not: the lags of the programme hold it in the plan.
    planted = None if crop.assumed else crop.planted
    if stage is None and _from_planting(timing):
        timing = timing.with_changes(stage_from=None)
    return open_window(
        timing, first_day, season, stage, crop.height if stage else None, clearance, None, planted
    )


def _from_planting(timing: PassTiming) -> bool:
    return timing.stage_from is not None and timing.stage_from == scale_for(timing.crop).names[0]


def _days(odds: Sequence[WindowOdds], days: int) -> DayOdds:
    """Return the joint odds of the horizon's days: the least of the jobs of one trip."""
    members = max(one.member_chance.shape[0] for one in odds)
    wide = [np.broadcast_to(one.member_chance[:, :days], (members, days)) for one in odds]
    chance = np.minimum.reduce(wide)
    worst = [one.reasons(least=0.5)[:days] for one in odds]
    picked = [next((one[k] for one in worst if one[k] is not Reason.FIT), Reason.FIT) for k in range(days)]
    for k in range(days):
        if picked[k] is Reason.FIT and chance[:, k].mean() < 0.999:
            held = [(float(share[k]), cause) for one in odds for cause, share in one.causes.items()]
            picked[k] = max(held, key=lambda pair: pair[0])[1] if held else Reason.FIT
    return DayOdds(chance, np.array([REASONS.index(reason) for reason in picked], dtype=np.int_))


def _window(
    farm: Farm, field: Field, spec: PassSpec, crop: CropView, odds: Sequence[WindowOdds], days: DayOdds,
    span: tuple[date, int], clearance: float | None,
) -> PassWindow:  # fmt: skip
    first_day, horizon_days = span
    opener = max(odds, key=lambda one: one.opens() or date.max)
    closer = min(odds, key=lambda one: one.shuts() or date.max)
    opens, closes = opener.opens(), closer.shuts()
    if opens is None:
        opens = first_day + timedelta(days=SEASON_D)
    already = opens <= first_day
    opened_by = None if already else _cause(opener, opens - timedelta(days=1), EARLY)
    closed_by = None if closes is None else _cause(closer, closes + timedelta(days=1), LATE)
    ideal_from, ideal_to = _ideal(odds[0])
    last = first_day + timedelta(days=horizon_days + 56)
    loss = loss_of(farm, field, spec, crop, (first_day, last), ideal_to, closes)
    reasons = [
        _opening(opener, None if already else opens, opened_by),
        _closing(farm, closer, closes, closed_by, clearance, first_day),
    ]
    if crop.assumed and any(one.timing.needs_stage for one in odds) and opened_by is Reason.TOO_EARLY_STAGE:
        reasons.append(f"The crop is not planted: dates assume planting about {spell(crop.planted)}.")
    if closes is not None and not already and closes < opens:
        reasons.append("It shuts before it opens.")
    reasons.append(f"Cost of delay: {loss.source}.")
    return PassWindow(
        opens=None if already else opens,
        closes=closes,
        ideal_from=ideal_from,
        ideal_to=ideal_to,
        allowed_chance=np.asarray(days.chance.mean(axis=0)),
        loss_points=loss.points,
        loss_undone=loss.undone,
        opens_span=None if already else _span(opener.opens(0.1), opener.opens(0.9)),
        closes_span=None if closes is None else _span(closer.shuts(0.1), closer.shuts(0.9)),
        reasons=tuple(reason for reason in reasons if reason),
        opened_by=opened_by,
        closed_by=closed_by,
    )


def _span(low: date | None, high: date | None) -> tuple[date, date] | None:
    return None if low is None or high is None else (low, high)


def _cause(odds: WindowOdds, day: date, among: tuple[Reason, ...]) -> Reason | None:
    k = (day - odds.first_day).days
    held = {
        cause: float(share[min(max(k, 0), len(share) - 1)])
        for cause, share in odds.causes.items()
        if cause in among
    }
    best = max(held, key=lambda cause: held[cause], default=None)
    return best if best is not None and held[best] > 0 else None


def _ideal(odds: WindowOdds) -> tuple[date | None, date | None]:
    timing = odds.timing
    stated = (
        timing.ideal_from, timing.ideal_to, timing.ideal_stage_from, timing.ideal_stage_to,
        timing.ideal_days_after_planting_min, timing.ideal_days_after_planting_max,
    )  # fmt: skip
    if all(part is None for part in stated):
        return None, None
    hit = np.flatnonzero(odds.ideal >= 0.5)
    if hit.size:
        return tuple(odds.first_day + timedelta(days=int(k)) for k in (hit[0], hit[-1]))  # type: ignore[return-value]
    if timing.ideal_to is not None:
        return None, date(odds.first_day.year, *timing.ideal_to)
    return None, None


def spell(day: date) -> str:
    """Write a date for people: ``Mon 17 May``."""
    return f"{day:%a} {day.day} {day:%b}"


def _about(span: tuple[date, date] | None, day: date) -> str:
    if span is None or span[0] == span[1]:
        return f"about {spell(day)}"
    return f"about {spell(day)} ({spell(span[0])} to {spell(span[1])})"


def _opening(odds: WindowOdds, opens: date | None, cause: Reason | None) -> str:
    if opens is None:
        return "The window is open."
    if cause is Reason.TOO_EARLY_STAGE:
        return f"Opens at {odds.timing.stage_from}, {_about(_span(odds.opens(0.1), odds.opens(0.9)), opens)}."
    if odds.opens() is None:
        return "The window does not open within the season looked at."
    if odds.timing.date_from == (opens.month, opens.day):
        return f"Opens on {spell(opens)}, the first date set for it."
    lag = odds.timing.days_after_planting_min
    return f"Opens on {spell(opens)}" + (f", {lag} days after planting." if lag is not None else ".")


def _closing(
    farm: Farm,
    odds: WindowOdds,
    closes: date | None,
    cause: Reason | None,
    clearance: float | None,
    first_day: date,
) -> str:
    if closes is None:
        return ""
    verb = "Closed" if closes < first_day else "Closes"
    when = _about(_span(odds.shuts(0.1), odds.shuts(0.9)), closes)
    over = closes < first_day
    if cause is Reason.TOO_LATE_STAGE:
        return f"{verb} when {odds.timing.stage_to} is over" + (
            ": that is now past." if over else f", {when}."
        )
    if cause is Reason.CROP_TOO_TALL:
        limit = min(m for m in (odds.timing.max_height_m, clearance) if m is not None)
        text = f"{verb} when the crop is taller than {show(limit, 'depth_m', farm.units, 0)}"
        return text + (": that is now past." if over else f", {when}.")
    lag = odds.timing.days_after_planting_max
    if cause is Reason.TOO_LATE_DATE and odds.timing.date_to == (closes.month, closes.day):
        return f"{verb} after {spell(closes)}, the last date set for it."
    if lag is not None:
        place = (
            "before planting"
            if lag < 0
            else "on the day of planting"
            if lag == 0
            else f"{lag} days after planting"
        )
        return f"{verb} {place}" + (": that is now past." if over else f", after {spell(closes)}.")
    return f"{verb} before {spell(first_day)}." if over else f"{verb} after {spell(closes)}."
