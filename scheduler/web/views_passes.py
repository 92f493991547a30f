"""The passes of one field: what is done, what is planned when and by whom, what each applies there; and which seed it gets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from scheduler.crew.language import Words
from scheduler.crew.load_sheet import load_lines
from scheduler.events.situation import PassState, Situation
from scheduler.farm.land import Field
from scheduler.farm.product import Form
from scheduler.farm.programme import PassSpec
from scheduler.planning.jobs import field_passes, rate_factor
from scheduler.planning.wording import Names, day_text, listed, when
from scheduler.wiring.office import View
from shared.units import show

ENGLISH = Words("en")


@dataclass(frozen=True)
class FieldPassLine:
    """One pass of a field: how far it is, what the plan has for it, what it applies."""

    name: str
    state: str
    planned: str
    applies: str


@dataclass(frozen=True)
class SeedChoice:
    """The seed that a field gets, and what else of the same crop there is: id and name."""

    now: str
    others: tuple[tuple[str, str], ...]


def pass_lines(view: View, field: Field) -> tuple[FieldPassLine, ...]:
    """Return every pass of a field, in the order of its programme."""
    situation = view.situation
    return tuple(
        FieldPassLine(
            spec.label,
            _state(view, field, spec, situation.passes[(field.id, spec.id)]),
            " ".join(_planned(view, field, spec)),
            _applies(situation, field, spec),
        )
        for spec in field_passes(situation, field)
    )


def seed_choice(situation: Situation, field: Field) -> SeedChoice | None:
    """Return which seed the field gets and what else it could; None where it is planted, or there is one seed only."""
    farm = situation.farm
    seeds = {product.id: product.label for product in farm.products if product.form is Form.SEED}
    sown = {one.id: _seeds_of(situation, one, seeds) for one in farm.fields}
    elsewhere = {name for one in farm.fields if one.crop != field.crop for name in sown[one.id]}
    mine = sown[field.id]
    planted = [
        spec for spec in field_passes(situation, field)
        if mine & {item.product for item in spec.products} and situation.left_ha(field.id, spec.id) < field.area_ha
    ]  # fmt: skip
    others = tuple((name, label) for name, label in seeds.items() if name not in elsewhere | mine)
    if len(mine) != 1 or planted or not others:
        return None
    return SeedChoice(seeds[min(mine)], others)


def _seeds_of(situation: Situation, field: Field, seeds: dict[str, str]) -> set[str]:
    passes = situation.farm.programme_of(field).passes
    return {item.product for spec in passes for item in spec.products if item.product in seeds}


def _state(view: View, field: Field, spec: PassSpec, state: PassState) -> str:
    if state.cancelled:
        return "called off"
    if state.finished:
        return f"done {_day(view, state)}".rstrip()
    units = view.situation.farm.units
    left = view.situation.left_ha(field.id, spec.id)
    if state.done_ha <= 0:
        return "under way" if state.running else "to do"
    area = show(left, "area_ha", units, 0)
    return f"{area} left{', under way' if state.running else ''}"


def _day(view: View, state: PassState) -> str:
    if state.finished_at is None:
        return ""
    return day_text(state.finished_at.astimezone(ZoneInfo(view.outlook.time_zone)).date())


def _planned(view: View, field: Field, spec: PassSpec) -> Iterator[str]:
    """Yield sentences: the blocks of the plan, what is left to a week, what is left out and why."""
    if view.plan is None:
        return
    farm, names, key = view.situation.farm, Names(view.situation.farm), (field.id, spec.id)
    for block in view.plan.blocks:
        if (block.field, block.pass_id) == key:
            who = listed([names.person(name) for name in (block.operator, block.support) if name])
            area = show(block.area_ha, "area_ha", farm.units, 0)
            yield f"{when(block.start)}, {area}, {who} ({block.chance:.0%})."
    for one in view.plan.later:
        if (one.field, one.pass_id) == key:
            yield f"{show(one.area_ha, 'area_ha', farm.units, 0)} in the week of {day_text(one.week_from)}."
    for left in view.plan.left_out:
        if (left.field, left.pass_id) == key:
            yield f"Left out: {left.text}" if left.text else "Left out."


def _applies(situation: Situation, field: Field, spec: PassSpec) -> str:
    lines = load_lines(
        situation.farm, None, spec, field.area_ha, rate_factor(situation, field.id, spec), ENGLISH
    )
    return "; ".join(f"{one.name} {one.rate_text}" for one in lines)
