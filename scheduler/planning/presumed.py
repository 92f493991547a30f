"""What today's plan takes as done though nobody has reported it yet.

Question answered: *how far are those who went out this morning?* Crews report when they stop, often in the evening. A plan made
at ten o'clock that took the whole morning as not done would send them out again, and would put what waits for their work behind
hours that nobody needs any more. So work of today goes on at the pace it was planned with, as long as nothing is known that
speaks against it (`gone_on`). Where the hours of now are not fit any more, nobody knows since when, and
nothing is presumed of what would go on. From the next day on what nobody reported counts as not done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from scheduler.events.presumed import Presumed, with_presumed
from scheduler.events.situation import LEAST_HA, Situation
from scheduler.farm.farm import Farm
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.fit_windows import PER_HOUR, fit_of
from scheduler.planning.gone_on import Stretch, gone_on
from scheduler.planning.jobs import key_of
from scheduler.planning.on_way import on_way
from scheduler.planning.plan import Plan
from scheduler.planning.quarters import Quarters
from scheduler.planning.wording import Names
from scheduler.windows.records import Outlook
from shared.clock import Horizon

AREA_DIGITS = 6
"""What is left after it has to fit into the rest of its hours."""


@dataclass(frozen=True)
class Known:
    """What a plan goes by: the situation with what is presumed, and what is left of the plan that people know."""

    situation: Situation
    plan: Plan | None
    presumed: tuple[Presumed, ...]


def known_now(situation: Situation, previous: Plan | None, outlook: Outlook) -> Known:
    """Return what a plan goes by at a moment, by the reports and by the plan that people know."""
    grid = Quarters(Horizon(outlook.first_day, outlook.days, outlook.time_zone))
    works = presumed_work(situation, previous, outlook)
    seen = replace(with_presumed(situation, works), on_way=on_way(situation, previous, grid))
    return Known(seen, less_presumed(previous, works), works)


def presumed_work(situation: Situation, previous: Plan | None, outlook: Outlook) -> tuple[Presumed, ...]:
    """Return what of the plan that people know is taken as done by now though nobody reported it, earliest first."""
    if previous is None:
        return ()
    grid = Quarters(Horizon(outlook.first_day, outlook.days, outlook.time_zone))
    now = max(0, grid.up(situation.now))
    rigs = {rig.id: rig for rig in rigs_of(situation.farm)}
    left = {key: situation.left_ha(*key) for key in situation.passes}
    out: list[Presumed] = []
    for stretch in gone_on(situation, previous, rigs, grid.moment(now)):
        key = (stretch.work.field, stretch.work.pass_id)
        if stretch.goes_on and not _fit_now(outlook, stretch, rigs, now):
            continue
        area = min(stretch.area_ha, left.get(key, 0.0))
        if area >= LEAST_HA:
            left[key] -= area
            out.append(replace(stretch.work, area_ha=round(area, AREA_DIGITS)))
    return tuple(out)


def _fit_now(outlook: Outlook, stretch: Stretch, rigs: dict[str, Rig], now: int) -> bool:
    """Return whether the hour that begins now is still fit enough for what goes on in it."""
    one = stretch.work
    key = key_of(None if one.rig is None else rigs[one.rig])
    hours = fit_of(outlook, one.field, one.pass_id, key)
    if hours is None or now // PER_HOUR >= hours.chance.size:
        return False
    chance = float(hours.chance[now // PER_HOUR])
    return chance > 0.0 and chance >= stretch.odds_needed - 1e-9


def less_presumed(previous: Plan | None, works: tuple[Presumed, ...]) -> Plan | None:
    """Return the known plan with what is presumed done taken out of its blocks."""
    if previous is None or not works:
        return previous
    done: dict[str, float] = {}
    begun = {block.id: block.start for block in previous.blocks}
    for one in works:
        # What an earlier plan of the day had under the same name was over before this block begins.
        if one.block in begun and one.end > begun[one.block]:
            done[one.block] = done.get(one.block, 0.0) + one.area_ha
    blocks = tuple(
        block.model_copy(update={"area_ha": max(0.0, block.area_ha - done[block.id])})
        if block.id in done
        else block
        for block in previous.blocks
    )
    return previous.model_copy(update={"blocks": blocks})


def presumed_lines(farm: Farm, works: tuple[Presumed, ...]) -> tuple[str, ...]:
    """Return sentences on what the plan takes as done that nobody reported."""
    names, out = Names(farm), []
    whole = dict.fromkeys((one.field, one.pass_id) for one in works if one.over)
    part: dict[tuple[str, str], float] = {}
    for one in works:
        if (key := (one.field, one.pass_id)) not in whole:
            part[key] = part.get(key, 0.0) + one.area_ha
    asks = "if that is not so, report it and plan anew"
    if whole:
        out.append(
            f"Taken as done, since its hours are over and nobody has reported yet: {'; '.join(names.works(whole))}; {asks}."
        )
    if part:
        said = [f"{names.area(ha)} of {names.works([key])[0]}" for key, ha in part.items()]
        out.append(f"Taken as done so far, by the hours since it began: {'; '.join(said)}; {asks}.")
    return tuple(out)
