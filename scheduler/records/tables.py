"""The tables themselves: planting by field, area by crop, applications, nitrogen against its plan."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.product import Form, Product
from scheduler.planning.jobs import licences_for
from scheduler.records.done import Done
from scheduler.records.weather_then import weather_then
from shared.record_table import Cell, RecordTable
from shared.units import KINDS, decimals, to_people
from shared.vocabulary import Operation
from shared.weather_records import HourlyWeather

RATE = {Form.LIQUID: "rate_l_per_ha", Form.DRY: "rate_kg_per_ha", Form.SEED: "rate_seeds_per_ha"}
AMOUNT = {Form.LIQUID: "volume_l", Form.DRY: "mass_kg", Form.SEED: "count"}
LABEL_NOTE = "Wind (at 2 m) and temperature are the weather source's, not measured at the field; labels and local law say what must be written down."


def _unit(farm: Farm, kind: str) -> str:
    found = KINDS[kind].us if farm.units == "us" else KINDS[kind].metric
    return found.replace("/", "_per_").replace("°", "deg").replace(" ", "_").lower()


def _to(farm: Farm, value: float | None, kind: str, digits: int = 2) -> Cell:
    return None if value is None else round(to_people(value, kind, farm.units)[0], digits)


def planting(farm: Farm, done: tuple[Done, ...]) -> RecordTable:
    """Return, for every field that was planted, when and how much, against the final planting date that the manager entered."""
    rows: list[tuple[Cell, ...]] = []
    for field in farm.fields:
        mine = [one for one in done if one.field.id == field.id and Operation.PLANT in one.spec.operations]
        days = [one.day for one in mine] or ([field.planted_on] if field.planted_on else [])
        if not days:
            continue
        area = sum(one.area_ha for one in mine) if mine else field.area_ha
        last, crop = max(days), field.crop.value
        final = farm.records.final_planting.get(crop)
        late = [one.area_ha for one in mine if final is not None and one.day > final]
        seeds = ", ".join(
            dict.fromkeys(farm.product_by_id[p.product].label for one in mine for p in one.spec.products)
        )
        people = ", ".join(dict.fromkeys(farm.operator_label(one.operator) for one in mine if one.operator))
        rows.append(
            (
                field.label, crop, _to(farm, area, "area_ha"), _to(farm, field.area_ha, "area_ha"), str(min(days)), str(last), seeds or None,
                people or None, str(final) if final else None, _late_days(farm, crop, last), _to(farm, sum(late), "area_ha") if final else None,
            )
        )  # fmt: skip
    unit = _unit(farm, "area_ha")
    columns = (
        "field", "crop", f"planted_{unit}", f"field_{unit}", "first_planted", "last_planted", "seed", "planted_by", "final_planting_date",
        "days_late", f"planted_late_{unit}",
    )  # fmt: skip
    return RecordTable("planting", "Planting by field", columns, tuple(rows), _late_note(farm))


def _late_days(farm: Farm, crop: str, last: date) -> int | None:
    final = farm.records.final_planting.get(crop)
    return None if final is None else max(0, (last - final).days)


def _late_note(farm: Farm) -> str:
    periods = ", ".join(f"{crop} {days} days" for crop, days in farm.records.late_planting_days.items())
    return (
        f"Late-planting periods as entered: {periods}. Policies and local offices decide."
        if periods
        else "Policies and local offices decide what counts as late."
    )


def acreage(farm: Farm, done: tuple[Done, ...]) -> RecordTable:
    """Return the planted area by crop, with first and last day: what an acreage report asks for."""
    area: dict[str, float] = defaultdict(float)
    days: dict[str, list[date]] = defaultdict(list)
    fields: dict[str, set[str]] = defaultdict(set)
    for one in done:
        if Operation.PLANT in one.spec.operations:
            crop = one.field.crop.value
            area[crop] += one.area_ha
            days[crop].append(one.day)
            fields[crop].add(one.field.id)
    for field in farm.fields:
        if field.planted_on is not None and field.id not in fields[field.crop.value]:
            area[field.crop.value] += field.area_ha
            days[field.crop.value].append(field.planted_on)
            fields[field.crop.value].add(field.id)
    rows = tuple(
        (crop, len(fields[crop]), _to(farm, area[crop], "area_ha"), str(min(days[crop])), str(max(days[crop]))) for crop in sorted(area) if days[crop]
    )  # fmt: skip
    return RecordTable(
        "acreage",
        "Planted area by crop",
        ("crop", "fields", f"planted_{_unit(farm, 'area_ha')}", "first_planted", "last_planted"),
        rows,
    )


def applications(farm: Farm, done: tuple[Done, ...], observed: HourlyWeather | None) -> RecordTable:
    """Return every application of a product that is no seed: one row for each product of each report."""
    rows = tuple(_application(farm, one, item.product, observed) for one in done for item in one.spec.products if farm.product_by_id[item.product].form is not Form.SEED)  # fmt: skip
    unit, wind, temp = (
        _unit(farm, "area_ha"),
        _unit(farm, "wind_m_s"),
        "degf" if farm.units == "us" else "degc",
    )
    columns = (
        "date", "start", "end", "field", "crop", "product", "registration", "restricted_use", "rate", "rate_unit", f"area_{unit}", "amount",
        "amount_unit", f"wind_mean_{wind}", f"wind_most_{wind}", "wind_direction", f"air_least_{temp}", f"air_most_{temp}", "operator",
        "licence", "licence_number", "licence_valid_until", "event",
    )  # fmt: skip
    paper = (
        ("date", ("date", "start", "end")), ("field", ("field",)), ("crop", ("crop",)), ("product", ("product",)), ("registration", ("registration",)),
        ("restricted use", ("restricted_use",)), ("rate", ("rate", "rate_unit")), (unit, (f"area_{unit}",)), ("amount", ("amount", "amount_unit")),
        (f"wind mean, most ({wind})", (f"wind_mean_{wind}", f"wind_most_{wind}")), ("wind direction", ("wind_direction",)),
        (f"air ({temp})", (f"air_least_{temp}", f"air_most_{temp}")), ("operator", ("operator",)),
        ("licence, number, valid until", ("licence", "licence_number", "licence_valid_until")),
    )  # fmt: skip
    return RecordTable("applications", "Applications", columns, rows, LABEL_NOTE, paper)


def _application(farm: Farm, one: Done, product_id: str, observed: HourlyWeather | None) -> tuple[Cell, ...]:
    product = farm.product_by_id[product_id]
    rate = rate_of(one, product)
    then = weather_then(observed, one.start, one.end)
    person = farm.operator_by_id.get(one.operator or "")
    held = (
        next((own for own in person.licences if own.name in licences_for(farm, one.spec)), None)
        if person
        else None
    )
    shown_rate, rate_unit = to_people(rate, RATE[product.form], farm.units)
    amount, amount_unit = to_people(rate * one.area_ha, AMOUNT[product.form], farm.units)
    weather: tuple[Cell, ...] = (None, None, None, None, None)
    if then is not None:
        weather = (
            _to(farm, then.wind_m_s, "wind_m_s", 1), _to(farm, then.wind_most_m_s, "wind_m_s", 1), None,
            _to(farm, then.temp_least_c, "temperature_c", 0), _to(farm, then.temp_most_c, "temperature_c", 0),
        )  # fmt: skip
    return (
        str(one.day), None if one.start is None else f"{one.start:%H:%M}", None if one.end is None else f"{one.end:%H:%M}", one.field.label,
        one.field.crop.value, product.label, product.registration or None, "yes" if product.restricted_use else "no", round(shown_rate, decimals(shown_rate, 3)),
        rate_unit, _to(farm, one.area_ha, "area_ha"), round(amount, decimals(amount)), amount_unit, *weather, person.label if person else None,
        held.name if held else None, (held.number or None) if held else None, str(held.expires) if held and held.expires else None, one.event_id,
    )  # fmt: skip


def rate_of(one: Done, product: Product) -> float:
    """Return the rate of a product in a piece of work [base unit per ha], as tissue results set it then."""
    factor = one.rate_factor if product.nitrogen_share > 0 else 1.0
    return sum(product.rate(item.rate) for item in one.spec.products if item.product == product.id) * factor


def nitrogen(situation: Situation, done: tuple[Done, ...]) -> RecordTable:
    """Return nitrogen applied against the programme, by field and pass [mass of N per area]."""
    farm, rows = situation.farm, []
    for field in farm.fields:
        planned_all, applied_all = 0.0, 0.0
        passes = [spec for spec in farm.programme_of(field).passes if _nitrogen(farm, spec) > 0]
        for spec in passes:
            mine = [one for one in done if (one.field.id, one.spec.id) == (field.id, spec.id)]
            before = spec.id in field.done and not mine
            planned = _nitrogen(farm, spec)
            applied = (
                planned
                if before
                else sum(_nitrogen(farm, spec, one.rate_factor) * one.area_ha for one in mine) / field.area_ha
            )
            covered = field.area_ha if before else sum(one.area_ha for one in mine)
            last = max((one.day for one in mine), default=None)
            when = "before the log" if before else str(last) if last else None
            rows.append(
                _nitrogen_row(farm, field.label, spec.label, planned, applied, covered, field.area_ha, when)
            )
            planned_all, applied_all = planned_all + planned, applied_all + applied
        if len(passes) > 1:
            rows.append(
                _nitrogen_row(
                    farm, field.label, "all passes", planned_all, applied_all, None, field.area_ha, None
                )
            )
    unit = _unit(farm, "rate_kg_per_ha")
    columns = ("field", "pass", f"planned_n_{unit}", f"applied_n_{unit}", "applied_pct", f"covered_{_unit(farm, 'area_ha')}", f"field_{_unit(farm, 'area_ha')}", "last_applied")  # fmt: skip
    return RecordTable(
        "nitrogen",
        "Nitrogen against its plan",
        columns,
        tuple(rows),
        "Applied: averaged over the whole field.",
    )


def _nitrogen(farm: Farm, spec: object, factor: float = 1.0) -> float:
    """Return the nitrogen of a pass [kg N/ha]."""
    total = 0.0
    for item in spec.products:  # type: ignore[attr-defined]
        product = farm.product_by_id[item.product]
        total += product.nitrogen_kg(product.rate(item.rate)) * (
            factor if product.nitrogen_share > 0 else 1.0
        )
    return total


def _nitrogen_row(
    farm: Farm, field: str, what: str, planned: float, applied: float, covered: float | None, area: float, when: str | None
) -> tuple[Cell, ...]:  # fmt: skip
    share = round(100 * applied / planned) if planned > 0 else None
    return (
        field, what, _to(farm, planned, "rate_kg_per_ha", 1), _to(farm, applied, "rate_kg_per_ha", 1), share, _to(farm, covered, "area_ha"),
        _to(farm, area, "area_ha"), when,
    )  # fmt: skip
