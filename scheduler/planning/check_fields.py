"""Rules of the checker about passes in a field, products and pins: order, lags, re-entry, lines, area, stock.

No solver code, nothing of what builds the engine's problem.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.events.situation import PassState, Situation
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, rigs_of
from scheduler.planning.check_blocks import rig_of
from scheduler.planning.plan import Plan, PlanBlock
from shared.vocabulary import Guidance, Operation

SLACK = timedelta(seconds=1)
SMALL_HA = 0.05
ROUNDING_HA = 0.002
Rows = dict[str, list[PlanBlock]]


def field_faults(plan: Plan, blocks: list[PlanBlock], situation: Situation) -> list[str]:
    """Return what is wrong with the passes of every field, with products and with pins."""
    found: list[str] = []
    by_field: dict[str, Rows] = defaultdict(lambda: defaultdict(list))
    for block in sorted(blocks, key=lambda b: (b.start, b.end)):
        by_field[block.field][block.pass_id].append(block)
    for field in situation.farm.fields:
        rows = by_field[field.id]
        specs = [s for s in situation.farm.programme_of(field).passes if (field.id, s.id) in situation.passes]
        for spec in specs:
            found += _lags(field.id, spec, rows, situation)
            found += _lines(field.id, spec, rows, situation)
            found += _reentry(field.id, spec, rows, situation)
            found += _samples(field.id, spec, rows, situation)
        found += _crop_order(field.id, specs, rows, situation)
    found += _areas(plan, by_field, situation)
    found += _stocks(blocks, situation)
    return found + _pins(plan, blocks, situation)


# ---- order -----------------------------------------------------------------------------------------------


def _state(situation: Situation, field_id: str, pass_id: str) -> PassState | None:
    return situation.passes.get((field_id, pass_id))


def _done(situation: Situation, field_id: str, pass_id: str) -> bool:
    state = situation.passes[(field_id, pass_id)]
    return state.finished or (not state.cancelled and situation.left_ha(field_id, pass_id) < SMALL_HA)


def _placed_whole(situation: Situation, field_id: str, pass_id: str, rows: Rows) -> bool:
    placed = sum(block.area_ha for block in rows.get(pass_id, ()))
    return placed >= situation.left_ha(field_id, pass_id) - SMALL_HA


def _lags(field_id: str, spec: PassSpec, rows: Rows, situation: Situation) -> list[str]:
    """Stated lags: the earlier pass is wholly done, and neither too short nor too long ago."""
    found = []
    for lag in spec.after:
        state = _state(situation, field_id, lag.pass_id)
        if state is None or state.cancelled:
            continue
        ended = _end_of(situation, field_id, lag.pass_id, rows)
        for block in rows.get(spec.id, ()):
            if ended is None:
                begun = any(row.end > block.start for row in rows.get(lag.pass_id, ()))
                if not _done(situation, field_id, lag.pass_id) and (lag.required or begun):
                    found.append(f"Block {block.id}: {lag.pass_id} is not done before it.")
                continue
            if block.start < ended + timedelta(days=lag.at_least_days) - SLACK:
                apart = (
                    f"less than {lag.at_least_days:g} days after"
                    if lag.at_least_days
                    else "before the end of"
                )
                found.append(f"Block {block.id}: starts {apart} {lag.pass_id}.")
            if (
                lag.at_most_days is not None
                and block.start > ended + timedelta(days=lag.at_most_days) + SLACK
            ):
                found.append(
                    f"Block {block.id}: starts more than {lag.at_most_days:g} days after {lag.pass_id}."
                )
    return found


def _end_of(situation: Situation, field_id: str, pass_id: str, rows: Rows) -> datetime | None:
    """Return when a pass is wholly done, from reports or from the plan; None when it is not, or not known."""
    state = situation.passes[(field_id, pass_id)]
    if _done(situation, field_id, pass_id):
        return state.finished_at or state.last_report_at
    if _placed_whole(situation, field_id, pass_id, rows):
        return max(block.end for block in rows[pass_id])
    return None


def _crop_order(field_id: str, specs: list[PassSpec], rows: Rows, situation: Situation) -> list[str]:
    """What is listed behind planting needs the crop; what is listed before it is never planned behind it."""
    planting = next((k for k, s in enumerate(specs) if Operation.PLANT in s.operations), None)
    if planting is None:
        return []
    plant = specs[planting].id
    state = situation.passes[(field_id, plant)]
    found = []
    behind_it = {lag.pass_id for lag in specs[planting].after}
    for k, spec in enumerate(specs):
        after_plant = any(lag.pass_id == plant for lag in spec.after)
        for block in rows.get(spec.id, ()):
            if k < planting and not after_plant and any(b.start < block.end for b in rows.get(plant, ())):
                found.append(f"Block {block.id}: comes after planting, and belongs before it.")
            if k > planting and not state.cancelled and spec.id not in behind_it:
                ended = _end_of(situation, field_id, plant, rows)
                if not _done(situation, field_id, plant) and (ended is None or block.start < ended - SLACK):
                    found.append(f"Block {block.id}: the field is not planted by then.")
    return found


def _reentry(field_id: str, spec: PassSpec, rows: Rows, situation: Situation) -> list[str]:
    """Nobody works in a field before the re-entry interval of what was sprayed is over."""
    farm = situation.farm
    hours = max((farm.product_by_id[item.product].reentry_hours for item in spec.products), default=0.0)
    if hours <= 0:
        return []
    wait = timedelta(hours=hours)
    ends = [(block.start, block.end) for block in rows.get(spec.id, ())]
    state = situation.passes[(field_id, spec.id)]
    if state.done_ha > 0 and not state.cancelled:
        last = state.finished_at or state.last_report_at
        if last is not None:
            ends.append((last, last))
    found = []
    for other, others in rows.items():
        for block in others if other != spec.id else ():
            if any(start < block.end and block.start < end + wait - SLACK for start, end in ends):
                found.append(f"Block {block.id}: lies inside the re-entry interval of {spec.id}.")
    return found


def _samples(field_id: str, spec: PassSpec, rows: Rows, situation: Situation) -> list[str]:
    """A tissue sample that comes too late for the work whose rate it would set is a way for nothing."""
    rule, state = situation.farm.tissue, situation.passes[(field_id, spec.id)]
    begun = state.done_ha > 0 or state.running is not None
    if spec.id not in rule.passes or begun or field_id in situation.rate_factor:
        return []
    specs = situation.farm.programme_of(situation.farm.field_by_id[field_id]).passes
    samples = [one.id for one in specs if one.operation is Operation.TISSUE_SAMPLE]
    wait = timedelta(days=rule.result_days)
    first = min((block.start for block in rows.get(spec.id, ())), default=None)
    return [
        f"Block {row.id}: the result of {name} comes too late for {spec.id}."
        for name in samples if name not in {lag.pass_id for lag in spec.after}
        for row in rows.get(name, ()) if first is not None and first < row.end + wait - SLACK
    ]  # fmt: skip


def _lines(field_id: str, spec: PassSpec, rows: Rows, situation: Situation) -> list[str]:
    """A pass on the lines of another one: whole multiple of its width, same rows, centimetre guidance on both."""
    if not spec.same_lines_as:
        return []
    farm = situation.farm
    partners = [rig for block in rows.get(spec.same_lines_as, ()) if (rig := rig_of(block, farm)) is not None]
    state = _state(situation, field_id, spec.same_lines_as)
    if state is not None and not state.cancelled and state.done_ha > 0 and state.last_rig is not None:
        partners += [rig for rig in rigs_of(farm) if rig.id == state.last_rig]
    found = []
    for block in rows.get(spec.id, ()):
        rig = rig_of(block, farm)
        for partner in partners:
            if rig is not None and not _same_lines(rig, partner):
                text = f"{rig.id} cannot follow the lines of {partner.id}"
                found.append(f"Block {block.id}: {text}.")
                break
    return found


def _same_lines(a: Rig, b: Rig) -> bool:
    wide, narrow = a.worker.width_m, b.worker.width_m
    if wide is None or narrow is None or {a.power.guidance, b.power.guidance} != {Guidance.CENTIMETRE}:
        return False
    rows = {x for x in (a.worker.row_spacing_m, b.worker.row_spacing_m) if x}
    if rows and max(rows) - min(rows) >= 0.005:
        return False
    wide, narrow = max(wide, narrow), min(wide, narrow)
    rest = wide % narrow
    return min(rest, narrow - rest) <= 0.01 * narrow


# ---- area, products, pins --------------------------------------------------------------------------------


def _areas(plan: Plan, by_field: dict[str, Rows], situation: Situation) -> list[str]:
    """No pass is planned beyond what is left, and nothing that is left is forgotten."""
    later: dict[tuple[str, str], float] = defaultdict(float)
    out: dict[tuple[str, str], float] = defaultdict(float)
    for item in plan.later:
        later[(item.field, item.pass_id)] += item.area_ha
    for rest in plan.left_out:
        out[(rest.field, rest.pass_id)] += rest.area_ha
    found = []
    for key in situation.passes:
        left = situation.left_ha(*key)
        rows = by_field[key[0]].get(key[1], [])
        total = sum(block.area_ha for block in rows) + later[key]
        slack = ROUNDING_HA * (len(rows) + 2)
        if total > left + slack:
            found.append(f"{key[1]} in {key[0]}: {total:.2f} ha planned, {left:.2f} ha left to do.")
        elif abs(total + out[key] - left) > slack and left >= SMALL_HA:
            found.append(
                f"{key[1]} in {key[0]}: {left - total - out[key]:.2f} ha are neither planned nor left out."
            )
    return found


def _stocks(blocks: list[PlanBlock], situation: Situation) -> list[str]:
    """At every start there is enough of each product, counting all that started before."""
    farm = situation.farm
    used: dict[str, float] = defaultdict(float)
    found = []
    for block in sorted(blocks, key=lambda b: (b.start, b.id)):
        spec = farm.spec(block.field, block.pass_id)
        assert spec is not None
        factor = situation.rate_factor.get(block.field, 1.0) if spec.id in farm.tissue.passes else 1.0
        for item in spec.products:
            product = farm.product_by_id[item.product]
            rate = product.rate(item.rate) * (factor if product.nitrogen_share > 0 else 1.0)
            used[item.product] += rate * block.area_ha
            there = _there_by(item.product, block.start, situation)
            if used[item.product] > there + 1e-3 * max(1.0, rate):
                found.append(
                    f"Block {block.id}: {item.product} runs short ({used[item.product]:.0f} of {there:.0f})."
                )
    return found


def _there_by(product: str, moment: datetime, situation: Situation) -> float:
    supply = situation.supplies.get(product)
    if supply is None:
        return 0.0
    return supply.stock + sum(
        amount for day, amount, _ in supply.deliveries if _work_begins(day, situation) <= moment
    )


def _work_begins(day: date, situation: Situation) -> datetime:
    zone = ZoneInfo(situation.farm.time_zone)
    shifts = [s.start for p in situation.farm.operators if (s := p.shift_on(day)) is not None]
    return datetime.combine(day, min(shifts, default=time(0)), zone).astimezone(UTC)


def _pins(plan: Plan, blocks: list[PlanBlock], situation: Situation) -> list[str]:
    """Every pin still to come has its block, or a note that says why not."""
    zone = ZoneInfo(situation.farm.time_zone)
    found = []
    for pin in situation.pins:
        day = pin.start.astimezone(zone).date()
        ahead = pin.start >= situation.now and (day - plan.first_day).days < plan.days
        if not ahead or situation.left_ha(pin.field_id, pin.pass_id) < SMALL_HA:
            continue
        kept = [
            block
            for block in blocks
            if (block.field, block.pass_id) == (pin.field_id, pin.pass_id)
            and timedelta(0) <= block.start - pin.start < timedelta(minutes=15)
            and pin.operator in (None, block.operator)
            and pin.rig in (None, block.rig)
        ]
        field = situation.farm.field_by_id[pin.field_id]
        spec = situation.farm.spec(pin.field_id, pin.pass_id)
        names = {pin.field_id, field.label}
        passes = {pin.pass_id, spec.label if spec else pin.pass_id}
        said = any(
            "cannot be kept" in note and any(n in note for n in names) and any(p in note for p in passes)
            for note in plan.notes
        )
        if not kept and not said:
            found.append(
                f"Pin {pin.pin}: {pin.pass_id} in {pin.field_id} at {pin.start:%a %d %b %H:%M} is not kept."
            )
    return found
