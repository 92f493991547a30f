"""The farm as a whole: references, cycles, passes nobody can do, guidance pairs, contradictions.

Each check yields `Fault`s whose ``key`` is the dotted place in the farm (``machine.2.width``); `build` turns it into
file and key path. Warnings are things with which planning can go on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from difflib import get_close_matches

from scheduler.farm.farm import Farm, great_circle_km
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import Operator
from scheduler.farm.pairing import LINE_PARTNER_RULE, matching_rigs
from scheduler.farm.product import Product
from scheduler.farm.programme import PassSpec, Programme
from scheduler.farm.rig import rigs_of
from shared.errors import Fault
from shared.units import UnitFault
from shared.vocabulary import Operation

FAR_FIELD_KM = 200.0
YIELD_MOST_T_PER_HA = {"corn": 25.0, "soybean": 9.0}


def cross_check(farm: Farm, today: date | None = None) -> list[Fault]:
    """Return every fault and warning of the farm as a whole."""
    faults: list[Fault] = []
    for check in (_doubles, _references, _lands, _machines, _people, _products, _programmes):
        faults += check(farm)
    if not any(not fault.warning for fault in faults):
        faults += _doable(farm, today)
        faults += _pairs(farm)
    if today is not None:
        faults += _over(farm, today)
    return faults


def _fault(key: str, value: str, problem: str, allowed: str, warning: bool = False) -> Fault:
    return Fault("", key, value, problem, allowed, warning)


def _unknown(key: str, value: str, what: str, known: Iterable[str]) -> Fault:
    names = sorted(known)
    near = get_close_matches(value, names, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}? " if near else ""
    return _fault(
        key, value, f"is no {what} of this farm", f"{hint}one of: {', '.join(names) or '(none described)'}"
    )


def _doubles(farm: Farm) -> Iterator[Fault]:
    groups: dict[str, tuple[Yard | Field | Machine | Operator | Product | Programme, ...]] = {
        "yard": farm.yards, "fields": farm.fields, "machine": farm.machines, "operator": farm.operators,
        "product": farm.products, "programme": farm.programmes,
    }  # fmt: skip
    for name, rows in groups.items():
        seen: set[str] = set()
        for index, row in enumerate(rows):
            if not row.id.strip() or any(mark in row.id for mark in " +;,|"):
                yield _fault(f"{name}.{index}.id", row.id, "is not a usable id", "letters, digits, - and _")
            if row.id in seen:
                yield _fault(f"{name}.{index}.id", row.id, "stands there twice", "a different id for each")
            seen.add(row.id)


def _references(farm: Farm) -> Iterator[Fault]:
    yards = {yard.id for yard in farm.yards}
    placed: tuple[tuple[str, tuple[Field | Machine | Operator, ...]], ...] = (
        ("fields", farm.fields),
        ("machine", farm.machines),
        ("operator", farm.operators),
    )
    for name, rows in placed:
        for index, row in enumerate(rows):
            if row.yard is not None and row.yard not in yards:
                yield _unknown(f"{name}.{index}.yard", row.yard, "yard", yards)
    tractors = {m.id for m in farm.machines if m.kind is MachineKind.TRACTOR}
    tenders = {m.id for m in farm.machines if m.kind is MachineKind.TENDER}
    for index, machine in enumerate(farm.machines):
        for name in machine.pulled_by:
            if name not in tractors:
                yield _unknown(f"machine.{index}.pulled_by", name, "tractor", tractors)
        for name in machine.tender:
            if name not in tenders:
                yield _unknown(f"machine.{index}.tender", name, "tender", tenders)
    programmes = {programme.id for programme in farm.programmes}
    for index, field in enumerate(farm.fields):
        if field.programme not in programmes:
            yield _unknown(f"fields.{index}.programme", field.programme, "programme", programmes)
            continue
        known = {spec.id for spec in farm.programme_of(field).passes}
        for name in field.done:
            if name not in known:
                yield _unknown(f"fields.{index}.done", name, "pass of its programme", known)
    for crop in {str(field.crop) for field in farm.fields}:
        if crop not in farm.price_per_t:
            yield _fault(f"price.{crop}", "", "is missing", f'a price such as {crop} = "4.40 $/bu"')


def _lands(farm: Farm) -> Iterator[Fault]:
    for index, field in enumerate(farm.fields):
        key = f"fields.{index}"
        if field.area_ha < 0.05:
            yield _fault(
                f"{key}.area", f"{field.area_ha:.4f} ha", "is too small to work", "at least 0.05 ha (0.12 ac)"
            )
        away = min(great_circle_km(field, yard) for yard in farm.yards)
        if away > FAR_FIELD_KM:
            yield _fault(
                f"{key}.latitude", f"{field.latitude_deg}, {field.longitude_deg}",
                f"lies {away:,.0f} km from every yard (latitude and longitude swapped?)", f"within {FAR_FIELD_KM:.0f} km",
            )  # fmt: skip
        wilt, full = field.wilting_point_share, field.field_capacity_share
        if wilt is not None and full is not None and wilt >= full:
            yield _fault(
                f"{key}.wilting_point", f"{wilt:.0%}", "is not below field capacity", f"less than {full:.0%}"
            )
        most = YIELD_MOST_T_PER_HA.get(str(field.crop), 30.0)
        if field.expected_yield_t_per_ha is not None and not 0 < field.expected_yield_t_per_ha <= most:
            yield _fault(
                f"{key}.expected_yield", f"{field.expected_yield_t_per_ha:.1f} t/ha", "is absurd for this crop",
                f"more than 0 and at most {most:g} t/ha",
            )  # fmt: skip


def _machines(farm: Farm) -> Iterator[Fault]:
    for index, machine in enumerate(farm.machines):
        key = f"machine.{index}"
        works = machine.kind in (MachineKind.IMPLEMENT, MachineKind.SELF_PROPELLED)
        if works and machine.operations:
            for name, value in (("width", machine.width_m), ("speed", machine.speed_km_h)):
                if value is None:
                    yield _fault(
                        f"{key}.{name}",
                        "",
                        f"is missing for {machine.id}, which works fields",
                        "a value with its unit",
                    )
        if machine.kind is MachineKind.IMPLEMENT and not machine.pulled_by:
            yield _fault(
                f"{key}.pulled_by", "", "is missing: nothing pulls this implement", "ids of tractors"
            )
        if not works and machine.operations:
            yield _fault(
                f"{key}.operations",
                ", ".join(machine.operations),
                f"does not go with a {machine.kind}",
                "nothing",
            )
        if machine.rows is not None and machine.row_spacing_m and machine.width_m:
            rows_wide = machine.rows * machine.row_spacing_m
            if abs(rows_wide - machine.width_m) > 0.05 * machine.width_m:
                yield _fault(
                    f"{key}.rows", str(machine.rows), f"times the row spacing makes {rows_wide:.2f} m, not the width",
                    f"rows x row_spacing = width ({machine.width_m:.2f} m)",
                )  # fmt: skip


def _people(farm: Farm) -> Iterator[Fault]:
    known = {str(operation) for operation in Operation}
    known |= {machine.id for machine in farm.machines} | {"tender"}
    for index, person in enumerate(farm.operators):
        key = f"operator.{index}"
        for skill in person.skills:
            if skill not in known:
                yield _unknown(f"{key}.skills", skill, "operation or machine", known)
        if person.normal_hours_per_day > person.most_hours_per_day:
            yield _fault(
                f"{key}.normal_hours", f"{person.normal_hours_per_day:g} h", "is above most_hours",
                f"at most {person.most_hours_per_day:g} h",
            )  # fmt: skip
        if not person.shifts:
            yield _fault(
                f"{key}.shift",
                "",
                "is missing: this person never works",
                "at least one shift with start and end",
            )
        for number, shift in enumerate(person.shifts):
            if shift.end <= shift.start:
                yield _fault(
                    f"{key}.shift.{number}.end", f"{shift.end:%H:%M}", "is not after the start",
                    f"later than {shift.start:%H:%M}",
                )  # fmt: skip


def _products(farm: Farm) -> Iterator[Fault]:
    for index, product in enumerate(farm.products):
        key = f"product.{index}"
        if product.form == "liquid" and product.nitrogen_share > 0 and product.density_kg_per_l is None:
            yield _fault(
                f"{key}.density",
                "",
                "is missing for a liquid that carries nitrogen",
                'such as "11.06 lb/gal"',
            )
        texts = [("stock", product.stock)]
        texts += [(f"delivery.{n}.amount", delivery.amount) for n, delivery in enumerate(product.deliveries)]
        for name, text in texts:
            try:
                if product.amount(text) < 0:
                    yield _fault(f"{key}.{name}", text, "is negative", "0 or more")
            except UnitFault as error:
                yield _fault(f"{key}.{name}", text, error.problem, error.allowed)
        try:
            if product.package_amount is not None and product.package_amount <= 0:
                yield _fault(f"{key}.package", product.package, "is not above 0", "more than 0")
        except UnitFault as error:
            yield _fault(f"{key}.package", product.package, error.problem, error.allowed)


def _programmes(farm: Farm) -> Iterator[Fault]:
    for index, programme in enumerate(farm.programmes):
        key = f"programme.{index}"
        known = [spec.id for spec in programme.passes]
        for number, spec in enumerate(programme.passes):
            place = f"{key}.pass.{number}"
            if known.index(spec.id) != number:
                yield _fault(
                    f"{place}.id", spec.id, "stands there twice in this programme", "a different id for each"
                )
            for lag, after in enumerate(spec.after):
                if after.pass_id not in known:
                    yield _unknown(
                        f"{place}.after.{lag}.pass", after.pass_id, "pass of this programme", known
                    )
                if after.at_most_days is not None and after.at_most_days < after.at_least_days:
                    yield _fault(
                        f"{place}.after.{lag}.at_most", f"{after.at_most_days:g} days", "is below at_least",
                        f"at least {after.at_least_days:g} days",
                    )  # fmt: skip
            if spec.same_lines_as and spec.same_lines_as not in known:
                yield _unknown(f"{place}.same_lines_as", spec.same_lines_as, "pass of this programme", known)
            yield from _window(f"{place}.window", spec)
            yield from _rates(farm, place, spec)
        cycle = lag_cycle(programme)
        if cycle:
            yield _fault(f"{key}.pass", " -> ".join(cycle), "waits for itself", "lags without a circle")


def _window(key: str, spec: PassSpec) -> Iterator[Fault]:
    window = spec.window
    for low, high in (("first_date", "last_date"), ("ideal_from", "ideal_to")):
        first, last = getattr(window, low), getattr(window, high)
        if first is not None and last is not None and last < first:
            yield _fault(
                f"{key}.{high}", str(last), f"closes before it opens ({low} {first})", f"{first} or later"
            )


def _rates(farm: Farm, key: str, spec: PassSpec) -> Iterator[Fault]:
    for number, item in enumerate(spec.products):
        product = farm.product_by_id.get(item.product)
        if product is None:
            yield _unknown(f"{key}.product.{number}.product", item.product, "product", farm.product_by_id)
            continue
        try:
            if product.rate(item.rate) <= 0:
                yield _fault(f"{key}.product.{number}.rate", item.rate, "is not above 0", "more than 0")
        except UnitFault as error:
            yield _fault(
                f"{key}.product.{number}.rate",
                item.rate,
                f"does not fit the product ({error.problem})",
                error.allowed,
            )


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


def _doable(farm: Farm, today: date | None) -> Iterator[Fault]:
    """Yield passes that no rig or nobody can do."""
    rigs = rigs_of(farm)
    left = {
        (field.programme, spec.id)
        for field in farm.fields
        for spec in farm.programme_of(field).passes
        if spec.id not in field.done
    }
    for index, programme in enumerate(farm.programmes):
        for number, spec in enumerate(programme.passes):
            if (programme.id, spec.id) not in left:
                continue
            key, jobs = f"programme.{index}.pass.{number}", " + ".join(spec.operations)
            able = [rig for rig in rigs if rig.does(spec.operations)]
            if not spec.on_foot and not able:
                yield _fault(
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
                yield _fault(
                    f"{key}.operation", jobs, "is a skill that nobody has", "an operator with this skill"
                )
                continue
            licences = {spec.licence} | {farm.product_by_id[item.product].licence for item in spec.products}
            for licence in sorted(licences - {""}):
                day = today or date.min
                if not any(person.holds(licence, day) for person in people):
                    yield _fault(
                        f"{key}.licence", licence, f"is held by nobody who can do {jobs}, or has expired",
                        "an operator with the skill and a valid licence", today is not None,
                    )  # fmt: skip


def _pairs(farm: Farm) -> Iterator[Fault]:
    """Yield pairs of passes that must share lines and cannot."""
    for index, programme in enumerate(farm.programmes):
        for number, spec in enumerate(programme.passes):
            partner = programme.find(spec.same_lines_as) if spec.same_lines_as else None
            if partner is not None and not matching_rigs(farm, spec, partner):
                yield _fault(
                    f"programme.{index}.pass.{number}.same_lines_as", spec.same_lines_as,
                    f"cannot share guidance lines with {spec.id}: no two rigs match", LINE_PARTNER_RULE,
                )  # fmt: skip


def _over(farm: Farm, today: date) -> Iterator[Fault]:
    for index, programme in enumerate(farm.programmes):
        for number, spec in enumerate(programme.passes):
            last = spec.window.last_date
            if last is not None and last < today:
                yield _fault(
                    f"programme.{index}.pass.{number}.window.last_date", str(last), "is over already",
                    f"a date from {today} on, or drop the pass", True,
                )  # fmt: skip
    for index, person in enumerate(farm.operators):
        for number, licence in enumerate(person.licences):
            if licence.expires is not None and licence.expires < today:
                yield _fault(
                    f"operator.{index}.licences.{number}.expires", str(licence.expires),
                    f"({licence.name}) has expired", f"{today} or later", True,
                )  # fmt: skip
