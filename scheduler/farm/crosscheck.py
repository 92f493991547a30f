"""The farm as a whole: ids, references, and what `check_things` and `check_passes` find in records that validated.

Each check yields `Fault`s whose ``key`` is the dotted place in the farm (``machine.2.width``); `build` turns it into
file and key path. Warnings are things with which planning can go on.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from scheduler.farm.check_passes import doable, out_of_date, pairs, programmes
from scheduler.farm.check_roads import roads
from scheduler.farm.check_things import lands, machines, people, products
from scheduler.farm.farm import Farm
from scheduler.farm.field_rates import own_faults
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import Operator
from scheduler.farm.product import Form, Product
from scheduler.farm.programme import Programme
from scheduler.farm.suggest import fault, nearest, unknown
from shared.errors import Fault
from shared.vocabulary import Crop, Operation


def cross_check(farm: Farm, today: date | None = None, whole: bool = True) -> list[Fault]:
    """Return every fault and warning of the farm as a whole.

    Parameters
    ----------
    farm : Farm
    today : date, optional
        Local day; with it, what is over or expired is said.
    whole : bool
        False when spoilt records were left out: what only an entire farm can show (who could do what) is not asked.
    """
    found: list[Fault] = []
    for check in (_doubles, _references, roads, lands, machines, people, products, programmes):
        found += check(farm)
    if whole and not any(not one.warning for one in found):
        found += doable(farm, today)
        found += pairs(farm)
    if today is not None:
        found += out_of_date(farm, today)
    return found


def _doubles(farm: Farm) -> Iterator[Fault]:
    groups: dict[str, tuple[Yard | Field | Machine | Operator | Product | Programme, ...]] = {
        "yard": farm.yards, "fields": farm.fields, "machine": farm.machines, "operator": farm.operators,
        "product": farm.products, "programme": farm.programmes,
    }  # fmt: skip
    for name, rows in groups.items():
        seen: set[str] = set()
        for index, row in enumerate(rows):
            if not row.id.isprintable() or not row.id.strip() or any(mark in row.id for mark in " +;,|"):
                yield fault(f"{name}.{index}.id", row.id, "is not a usable id", "letters, digits, - and _")
            if row.id in seen:
                yield fault(f"{name}.{index}.id", row.id, "stands there twice", "a different id for each")
            seen.add(row.id)
            label = getattr(row, "name", "")
            if not label.isprintable():
                yield fault(
                    f"{name}.{index}.name", ascii(label), "cannot be printed", "plain text in one line"
                )


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
                yield unknown(f"{name}.{index}.yard", row.yard, "yard", yards)
    tractors = {m.id for m in farm.machines if m.kind is MachineKind.TRACTOR}
    tenders = {m.id for m in farm.machines if m.kind is MachineKind.TENDER}
    for index, machine in enumerate(farm.machines):
        for name in machine.pulled_by:
            if name not in tractors:
                yield unknown(f"machine.{index}.pulled_by", name, "tractor", tractors)
        for name in machine.tender:
            if name not in tenders:
                yield unknown(f"machine.{index}.tender", name, "tender", tenders)
    yield from _programmes_of_fields(farm)
    yield from _seeds_of_one_crop(farm)
    for crop in {str(field.crop) for field in farm.fields}:
        if crop not in farm.price_per_t:
            yield fault(f"price.{crop}", "", "is missing", f'a price such as {crop} = "4.40 $/bu"')
    yield from _settings(farm)


def _programmes_of_fields(farm: Farm) -> Iterator[Fault]:
    for index, field in enumerate(farm.fields):
        if field.programme not in farm.programme_by_id:
            yield unknown(f"fields.{index}.programme", field.programme, "programme", farm.programme_by_id)
            continue
        programme = farm.programme_of(field)
        if programme.crop and programme.crop != field.crop:
            yield fault(
                f"fields.{index}.programme", field.programme, f"is for {programme.crop}, the field's crop is {field.crop}",
                f"a programme for {field.crop}",
            )  # fmt: skip
        usual = farm.programme_by_id[field.programme]
        yield from own_faults(f"fields.{index}", usual, field, farm.product_by_id, farm.units)
        known = {spec.id for spec in programme.passes}
        for name in field.done:
            if name not in known:
                yield unknown(f"fields.{index}.done", name, "pass of its programme", known)


def _seeds_of_one_crop(farm: Farm) -> Iterator[Fault]:
    """Yield fields whose own seed is that of another crop: sown in fields of both, or usual in a programme of the other."""
    crops: dict[str, set[str]] = {}
    for field in farm.fields:
        if field.programme in farm.programme_by_id:
            for spec in farm.programme_of(field).passes:
                for item in spec.products:
                    crops.setdefault(item.product, set()).add(field.crop.value)
    for index, field in enumerate(farm.fields):
        product = farm.product_by_id.get(field.seed)
        others = crops.get(field.seed, set()) - {field.crop.value}
        if product is not None and product.form is Form.SEED and others:
            yield fault(
                f"fields.{index}.seed", field.seed, f"is sown in fields of {' and '.join(sorted(others))} too",
                f"a seed of {field.crop}",
            )  # fmt: skip


def _settings(farm: Farm) -> Iterator[Fault]:
    """Yield faults of the tissue rule and of the overridden limits."""
    operations = [str(operation) for operation in Operation]
    for name in farm.fit_limits:
        if name not in operations:
            yield fault(
                f"fit_limits.{name}", "", "is no operation",
                f"{nearest(name, operations)}one of: {', '.join(operations)}",
            )  # fmt: skip
    crops = [str(crop) for crop in Crop]
    for table in ("final_planting", "late_planting_days"):
        for name in getattr(farm.records, table):
            if name not in crops:
                yield unknown(f"records.{table}.{name}", name, "crop", crops)
    if "tissue" not in farm.model_fields_set:
        return
    rule, known = farm.tissue, {spec.id for programme in farm.programmes for spec in programme.passes}
    if rule.short_pct >= rule.enough_pct:
        yield fault(
            "tissue.short_pct",
            f"{rule.short_pct:g}",
            "is not below enough_pct",
            f"less than {rule.enough_pct:g}",
        )
    for name in rule.passes:
        if name not in known:
            yield unknown("tissue.passes", name, "pass", known)
