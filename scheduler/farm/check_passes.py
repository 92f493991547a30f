"""Programmes that cannot run: unknown passes, circles of lags, closed windows, passes nobody can do, lines not shared."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.farm.farm import Farm
from scheduler.farm.field_rates import rate_faults
from scheduler.farm.pairing import LINE_PARTNER_RULE, matching_rigs
from scheduler.farm.programme import PassSpec, Programme
from scheduler.farm.rig import Rig, rigs_of
from scheduler.farm.suggest import fault, unknown
from shared.errors import Fault


def programmes(farm: Farm) -> Iterator[Fault]:
    for index, programme in enumerate(farm.programmes):
        key = f"programme.{index}"
        known = [spec.id for spec in programme.passes]
        for number, spec in enumerate(programme.passes):
            place = f"{key}.pass.{number}"
            if known.index(spec.id) != number:
                yield fault(
                    f"{place}.id", spec.id, "stands there twice in this programme", "a different id for each"
                )
            for lag, after in enumerate(spec.after):
                if after.pass_id not in known:
                    yield unknown(f"{place}.after.{lag}.pass", after.pass_id, "pass of this programme", known)
                if after.at_most_days is not None and after.at_most_days < after.at_least_days:
                    yield fault(
                        f"{place}.after.{lag}.at_most", f"{after.at_most_days:g} days", "is below at_least",
                        f"at least {after.at_least_days:g} days",
                    )  # fmt: skip
            if spec.same_lines_as == spec.id:
                yield fault(
                    f"{place}.same_lines_as", spec.id, "is the pass itself", "another pass of this programme"
                )
            if spec.also is spec.operation:
                yield fault(
                    f"{place}.also", str(spec.also), "is the operation itself", "another job of the same trip"
                )
            if spec.same_lines_as and spec.same_lines_as not in known:
                yield unknown(f"{place}.same_lines_as", spec.same_lines_as, "pass of this programme", known)
            yield from _window(f"{place}.window", spec)
            yield from _rates(farm, place, spec)
        cycle = lag_cycle(programme)
        if cycle:
            yield fault(f"{key}.pass", " -> ".join(cycle), "waits for itself", "lags without a circle")


def _window(key: str, spec: PassSpec) -> Iterator[Fault]:
    window = spec.window
    for low, high in (("first_date", "last_date"), ("ideal_from", "ideal_to")):
        first, last = getattr(window, low), getattr(window, high)
        if first is not None and last is not None and last < first:
            yield fault(
                f"{key}.{high}", str(last), f"closes before it opens ({low} {first})", f"{first} or later"
            )


def _rates(farm: Farm, key: str, spec: PassSpec) -> Iterator[Fault]:
    for number, item in enumerate(spec.products):
        if item.product not in farm.product_by_id:
            yield unknown(f"{key}.product.{number}.product", item.product, "product", farm.product_by_id)
            continue
        yield from rate_faults(f"{key}.product.{number}.rate", item, farm.product_by_id, farm.units)


def lag_cycle(programme: Programme) -> list[str]:
    """Return a circle of passes that wait for each other, or an empty list."""
    waits = {spec.id: [after.pass_id for after in spec.after] for spec in programme.passes}
    state: dict[str, int] = {}

    def visit(name: str, path: list[str]) -> list[str]:
        state[name] = 1
        for other in waits.get(name, ()):
            if state.get(other) == 1:
                return [*path[path.index(other) :], other] if other in path else [name, other]
            if other not in state and (found := visit(other, [*path, other])):
                return found
        state[name] = 2
        return []

    for start in waits:
        if start not in state and (found := visit(start, [start])):
            return found
    return []


def doable(farm: Farm, today: date | None) -> Iterator[Fault]:
    """Yield passes that no rig or nobody can do."""
    rigs = rigs_of(farm)
    left: dict[tuple[str, str], set[str]] = {}
    for field in farm.fields:
        for spec in farm.programme_of(field).passes:
            if spec.id not in field.done:
                applied = left.setdefault((field.programme, spec.id), set())
                applied |= {item.product for item in spec.products}
    for index, programme in enumerate(farm.programmes):
        for number, spec in enumerate(programme.passes):
            if (programme.id, spec.id) not in left:
                continue
            key, jobs = f"programme.{index}.pass.{number}", " + ".join(spec.operations)
            able = [rig for rig in rigs if rig.does(spec.operations)]
            if not spec.on_foot and not able:
                yield fault(
                    f"{key}.operation",
                    jobs,
                    "can be done by no rig",
                    "a machine with these operations, and a tractor",
                )
                continue
            names = {str(op) for op in spec.operations} | {
                m.id for rig in able for m in (rig.power, rig.worker)
            }
            people = [p for p in farm.operators if names & set(p.skills)]
            if not people:
                yield fault(
                    f"{key}.operation", jobs, "is a skill that nobody has", "an operator with this skill"
                )
                continue
            if able and not any(_staffed(farm, rig, names) for rig in able):
                yield fault(
                    f"{key}.operation", jobs, "needs a tender driver beside its own, and there is none",
                    'a second operator with the skill "tender"',
                )  # fmt: skip
            applied = left[(programme.id, spec.id)]
            licences = {spec.licence} | {farm.product_by_id[name].licence for name in applied}
            for licence in sorted(licences - {""}):
                day = today or date.min
                if not any(person.holds(licence, day) for person in people):
                    yield fault(
                        f"{key}.licence", licence, f"is held by nobody who can do {jobs}, or has expired",
                        "an operator with the skill and a valid licence", today is not None,
                    )  # fmt: skip


def _staffed(farm: Farm, rig: Rig, skills: set[str]) -> bool:
    """Return whether two different people can drive a rig and its tender (one where none needs a driver)."""
    if rig.tender is None or not rig.tender.driver_for_tender:
        return True
    drivers = {person.id for person in farm.operators if skills & set(person.skills)}
    support = {person.id for person in farm.operators if {"tender", rig.tender.id} & set(person.skills)}
    return bool(drivers and support) and len(drivers | support) > 1


def pairs(farm: Farm) -> Iterator[Fault]:
    """Yield pairs of passes that must share lines and cannot."""
    for index, programme in enumerate(farm.programmes):
        for number, spec in enumerate(programme.passes):
            partner = programme.find(spec.same_lines_as) if spec.same_lines_as else None
            if partner is not None and not matching_rigs(farm, spec, partner):
                yield fault(
                    f"programme.{index}.pass.{number}.same_lines_as", spec.same_lines_as,
                    f"cannot share guidance lines with {spec.id}: no two rigs match", LINE_PARTNER_RULE,
                )  # fmt: skip


def out_of_date(farm: Farm, today: date) -> Iterator[Fault]:
    for index, programme in enumerate(farm.programmes):
        for number, spec in enumerate(programme.passes):
            last = spec.window.last_date
            if last is not None and last < today:
                yield fault(
                    f"programme.{index}.pass.{number}.window.last_date", str(last), "is over already",
                    f"a date from {today} on, or drop the pass", True,
                )  # fmt: skip
    for index, field in enumerate(farm.fields):
        if field.planted_on is not None and field.planted_on > today:
            yield fault(
                f"fields.{index}.planted_on", str(field.planted_on), "lies ahead", f"{today} or earlier", True
            )
    for index, product in enumerate(farm.products):
        for number, delivery in enumerate(product.deliveries):
            if delivery.date < today:
                yield fault(
                    f"product.{index}.delivery.{number}.date", str(delivery.date), "is past",
                    "a later date; what has come is reported, or counted in stock", True,
                )  # fmt: skip
    for index, person in enumerate(farm.operators):
        for number, licence in enumerate(person.licences):
            if licence.expires is not None and licence.expires < today:
                yield fault(
                    f"operator.{index}.licences.{number}.expires", str(licence.expires),
                    f"({licence.name}) has expired", f"{today} or later", True,
                )  # fmt: skip
