"""What the records lack, each with how to put it right."""

from __future__ import annotations

from datetime import date, timedelta

from scheduler.farm.farm import Farm
from scheduler.farm.product import Form, Product
from scheduler.planning.jobs import licences_for
from scheduler.records.done import Done
from scheduler.records.weather_then import weather_then
from shared.record_table import RecordTable
from shared.vocabulary import Operation
from shared.weather_records import HourlyWeather

RECORD_WITHIN = timedelta(days=14)
"""Records of restricted-use products are to be made within 14 days in the US (7 CFR 110.3; from memory)."""


def missing(farm: Farm, done: tuple[Done, ...], observed: HourlyWeather | None, today: date) -> RecordTable:
    """Return the table of what is missing, the legally heaviest first."""
    rows = [*_applications(farm, done, observed, today), *_products(farm, done), *_planting(farm, done)]
    ordered = sorted(dict.fromkeys(rows), key=lambda row: (row[0], row[1], row[2]))
    return RecordTable(
        "missing", "What is missing", ("weight", "record", "what", "how to put it right"), tuple(ordered)
    )


Row = tuple[str, str, str, str]
HEAVY, PLAIN = "1 required", "2 wanted"


def _applications(
    farm: Farm, done: tuple[Done, ...], observed: HourlyWeather | None, today: date
) -> list[Row]:
    rows: list[Row] = []
    if any(_guarded(farm, one) for one in done):
        rows.append(
            (
                PLAIN,
                "applications",
                "wind direction",
                "write it on the sheet: no weather source here keeps it",
            )
        )
    for one in done:
        guarded = _guarded(farm, one)
        if not guarded:
            continue
        restricted = any(p.restricted_use for p in guarded)
        weight, name = HEAVY if restricted else PLAIN, f"{one.spec.label}, {one.field.label}, {one.day}"
        again = f"fitground report FARM correct {one.event_id} done {one.field.id} {one.spec.id} AREA --operator WHO"
        if one.operator is None:
            rows.append((weight, name, "who did it", again))
        else:
            rows += _licence(farm, one, weight, name)
        if one.start is None or one.end is None:
            rows.append(
                (
                    weight,
                    name,
                    "start and end",
                    "enter them with the work: import-work takes a table with start and end; the phone page sends them",
                )
            )
        elif weather_then(observed, one.start, one.end) is None:
            rows.append(
                (
                    PLAIN,
                    name,
                    "wind and temperature",
                    "no observed weather of these hours: write down what was measured at the field",
                )
            )
        if restricted and today - one.day > RECORD_WITHIN:
            rows.append(
                (
                    HEAVY,
                    name,
                    f"the record is older than {RECORD_WITHIN.days} days",
                    "print and sign the sheet now, if that was not done",
                )
            )
    return rows


def _guarded(farm: Farm, one: Done) -> list[Product]:
    """Return the products of a piece of work that records are kept of."""
    products = [farm.product_by_id[item.product] for item in one.spec.products]
    return [p for p in products if p.licence or p.restricted_use or p.registration]


def _licence(farm: Farm, one: Done, weight: str, name: str) -> list[Row]:
    person, rows = farm.operator_by_id.get(one.operator or ""), []
    for wanted in licences_for(farm, one.spec):
        held = next((own for own in person.licences if own.name == wanted), None) if person else None
        who = person.label if person else str(one.operator)
        if held is None:
            rows.append(
                (
                    HEAVY,
                    name,
                    f"a licence {wanted!r} of {who}",
                    f"farm.toml: licences of {who}, or correct who did it",
                )
            )
        elif held.expires is not None and held.expires < one.day:
            rows.append(
                (
                    HEAVY,
                    name,
                    f"a valid licence: that of {who} ended on {held.expires}",
                    "find out under whose licence it was applied",
                )
            )
        elif not held.number:
            rows.append(
                (
                    weight,
                    f"people: {who}",
                    f"the number of the licence {wanted!r}",
                    f'farm.toml: licences = [{{ name = "{wanted}", number = "..." }}]',
                )
            )
    return rows


def _products(farm: Farm, done: tuple[Done, ...]) -> list[Row]:
    used = {item.product for one in done for item in one.spec.products}
    return [
        (HEAVY if p.restricted_use else PLAIN, f"product: {p.label}", "its registration number", f'farm.toml: registration = "..." for product {p.id}')
        for p in farm.products
        if p.id in used and p.form is not Form.SEED and (p.licence or p.restricted_use) and not p.registration
    ]  # fmt: skip


def _planting(farm: Farm, done: tuple[Done, ...]) -> list[Row]:
    rows: list[Row] = []
    planted = {one.field.crop.value for one in done if Operation.PLANT in one.spec.operations}
    for crop in sorted(planted):
        if crop not in farm.records.final_planting:
            rows.append(
                (
                    PLAIN,
                    f"planting: {crop}",
                    "the final planting date of the policy",
                    f'farm.toml: [records] final_planting = {{ {crop} = "2027-05-31" }}',
                )
            )
    for one in done:
        if Operation.PLANT in one.spec.operations and one.operator is None:
            rows.append((PLAIN, f"{one.spec.label}, {one.field.label}, {one.day}", "who planted", f"fitground report FARM correct {one.event_id} done {one.field.id} {one.spec.id} AREA --operator WHO"))  # fmt: skip
    return rows
