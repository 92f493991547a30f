"""Fields, machines, people and products that contradict themselves or the world, each by its own numbers."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.farm.farm import Farm, great_circle_km
from scheduler.farm.land import Field
from scheduler.farm.machine import MachineKind
from scheduler.farm.operator import WEEKDAYS, Operator
from scheduler.farm.suggest import fault, nearest, unknown
from shared.clock import is_iso_date
from shared.errors import Fault
from shared.units import UnitFault
from shared.vocabulary import Operation

FAR_FIELD_KM = 200.0
YIELD_MOST_T_PER_HA = {"corn": 25.0, "soybean": 9.0}


def lands(farm: Farm) -> Iterator[Fault]:
    if farm.latitude_deg < 0:
        yield fault(
            "latitude", f"{farm.latitude_deg:.2f}",
            "lies in the south, where spring begins in September: the usual dates of passes and the cost of planting late are of a northern spring",
            "dates of your own in the window of each pass", warning=True,
        )  # fmt: skip
    for index, field in enumerate(farm.fields):
        key = f"fields.{index}"
        if field.area_ha < 0.05:
            yield fault(
                f"{key}.area", f"{field.area_ha:.4f} ha", "is too small to work", "at least 0.05 ha (0.12 ac)"
            )
        away = min(great_circle_km(field, yard) for yard in farm.yards)
        if away > FAR_FIELD_KM:
            yield fault(
                f"{key}.latitude", f"{field.latitude_deg}, {field.longitude_deg}",
                f"lies {away:,.0f} km from every yard (latitude and longitude swapped?)", f"within {FAR_FIELD_KM:.0f} km",
            )  # fmt: skip
        wilt, full = field.wilting_point_share, field.field_capacity_share
        if wilt is not None and full is not None and wilt >= full:
            yield fault(
                f"{key}.wilting_point", f"{wilt:.0%}", "is not below field capacity", f"less than {full:.0%}"
            )
        most = YIELD_MOST_T_PER_HA.get(str(field.crop), 30.0)
        if field.expected_yield_t_per_ha is not None and not 0 < field.expected_yield_t_per_ha <= most:
            yield fault(
                f"{key}.expected_yield", f"{field.expected_yield_t_per_ha:.1f} t/ha", "is absurd for this crop",
                f"more than 0 and at most {most:g} t/ha",
            )  # fmt: skip
        if field.programme in farm.programme_by_id:
            yield from _history(farm, key, field)


def _history(farm: Farm, key: str, field: Field) -> Iterator[Fault]:
    """Yield what a field's passes done and its planting day leave open or contradict."""
    passes = farm.programme_of(field).passes
    plants = [spec.id for spec in passes if Operation.PLANT in spec.operations]
    planted = any(name in field.done for name in plants)
    if planted and field.planted_on is None:
        yield fault(
            f"{key}.planted_on", "", "is missing for a planted field", "the day on which it was planted"
        )
    if plants and field.planted_on is not None and not planted:
        yield fault(
            f"{key}.planted_on", str(field.planted_on), f"is given, but {plants[0]} is not among the passes done",
            f"{plants[0]} in done, or no planted_on",
        )  # fmt: skip
    for spec in passes:
        for after in spec.after:
            if spec.id in field.done and after.pass_id not in field.done:
                yield fault(
                    f"{key}.done", spec.id, f"is done, but {after.pass_id}, for which it waits, is not",
                    f"{after.pass_id} in done too, where it was done", True,
                )  # fmt: skip


def machines(farm: Farm) -> Iterator[Fault]:
    for index, machine in enumerate(farm.machines):
        key = f"machine.{index}"
        works = machine.kind in (MachineKind.IMPLEMENT, MachineKind.SELF_PROPELLED)
        if works and machine.operations:
            for name, value in (("width", machine.width_m), ("speed", machine.speed_km_h)):
                if value is None:
                    yield fault(
                        f"{key}.{name}",
                        "",
                        f"is missing for {machine.id}, which works fields",
                        "a value with its unit",
                    )
        for number, name in enumerate(machine.only_fields):
            if name not in farm.field_by_id:
                yield unknown(f"{key}.only_fields.{number}", name, "field", farm.field_by_id)
        for number, name in enumerate(machine.driven_by):
            if name not in farm.operator_by_id:
                yield unknown(f"{key}.driven_by.{number}", name, "operator", farm.operator_by_id)
        if machine.kind is MachineKind.IMPLEMENT and not machine.pulled_by:
            yield fault(f"{key}.pulled_by", "", "is missing: nothing pulls this implement", "ids of tractors")
        if not works and machine.operations:
            yield fault(
                f"{key}.operations",
                ", ".join(machine.operations),
                f"does not go with a {machine.kind}",
                "nothing",
            )
        if machine.rows is not None and machine.row_spacing_m and machine.width_m:
            rows_wide = machine.rows * machine.row_spacing_m
            if abs(rows_wide - machine.width_m) > 0.05 * machine.width_m:
                yield fault(
                    f"{key}.rows", str(machine.rows), f"times the row spacing makes {rows_wide:.2f} m, not the width",
                    f"rows x row_spacing = width ({machine.width_m:.2f} m)",
                )  # fmt: skip


def people(farm: Farm) -> Iterator[Fault]:
    known = {str(operation) for operation in Operation}
    known |= {machine.id for machine in farm.machines} | {"tender"}
    for index, person in enumerate(farm.operators):
        key = f"operator.{index}"
        for skill in person.skills:
            if skill not in known:
                yield unknown(f"{key}.skills", skill, "operation or machine", known)
        if person.normal_hours_per_day > person.most_hours_per_day:
            yield fault(
                f"{key}.normal_hours", f"{person.normal_hours_per_day:g} h", "is above most_hours",
                f"at most {person.most_hours_per_day:g} h",
            )  # fmt: skip
        if not person.shifts:
            yield fault(
                f"{key}.shift",
                "",
                "is missing: this person never works",
                "at least one shift with start and end",
            )
        if person.most_hours_per_day > 24:
            yield fault(
                f"{key}.most_hours", f"{person.most_hours_per_day:g} h", "is more than a day", "at most 24 h"
            )
        yield from _weekdays(key, person)
        for number, shift in enumerate(person.shifts):
            if shift.end <= shift.start:
                yield fault(
                    f"{key}.shift.{number}.end", f"{shift.end:%H:%M}", "is not after the start",
                    f"later than {shift.start:%H:%M}",
                )  # fmt: skip


def _weekdays(key: str, person: Operator) -> Iterator[Fault]:
    taken: dict[str, int] = {}
    for number, shift in enumerate(person.shifts):
        for day in shift.days:
            place = f"{key}.shift.{number}.days"
            if day not in WEEKDAYS and not is_iso_date(day):
                yield fault(
                    place, day, "is no weekday",
                    f"{nearest(day.lower()[:3], WEEKDAYS)}{', '.join(WEEKDAYS)}, or a date such as 2027-05-16",
                )  # fmt: skip
            elif day in taken:
                yield fault(place, day, f"is in shift[{taken[day]}] too", "each day in one shift")
            taken.setdefault(day, number)


def products(farm: Farm) -> Iterator[Fault]:
    for index, product in enumerate(farm.products):
        key = f"product.{index}"
        if product.form == "liquid" and product.nitrogen_share > 0 and product.density_kg_per_l is None:
            yield fault(
                f"{key}.density",
                "",
                "is missing for a liquid that carries nitrogen",
                'such as "11.06 lb/gal"',
            )
        names = [delivery.id for delivery in product.deliveries]
        for number, name in enumerate(names):
            if name in names[:number]:
                yield fault(
                    f"{key}.delivery.{number}.id", name, "stands there twice", "a different id for each"
                )
        texts = [("stock", product.stock)]
        texts += [(f"delivery.{n}.amount", delivery.amount) for n, delivery in enumerate(product.deliveries)]
        for name, text in texts:
            try:
                if product.amount(text) < 0:
                    yield fault(f"{key}.{name}", text, "is negative", "0 or more")
            except UnitFault as error:
                yield fault(f"{key}.{name}", text, error.problem, error.allowed)
        try:
            if product.package_amount is not None and product.package_amount <= 0:
                yield fault(f"{key}.package", product.package, "is not above 0", "more than 0")
        except UnitFault as error:
            yield fault(f"{key}.package", product.package, error.problem, error.allowed)
