"""What to load: rate, total, loads and refill stops of every product of a block, and nitrogen per area.

Example of the trade (common practice): 24 gal/ac of 32 % solution, 12 gal to each side of the row to come; at
11.06 lb/gal that is 24 x 11.06 x 0.32 = 84.9 lb N/ac.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

from pydantic import BaseModel, ConfigDict

from scheduler.crew.language import Words
from scheduler.farm.farm import Farm
from scheduler.farm.product import AMOUNT_KIND, RATE_KIND, Form, Product, ProductRate
from scheduler.farm.programme import PassSpec
from scheduler.farm.rig import Rig, hectares_per_load
from shared.units import decimals, to_people
from shared.vocabulary import Operation

LAST_LEAST = 0.25
"""Where the last load would be a smaller share of a full one, all are made alike: a rest is badly measured and mixed
(common practice, no source)."""
# A band is laid on each side of the row, so people set half the rate to a side.
_TWO_SIDED = {Operation.BAND_NITROGEN, Operation.SIDE_DRESS}


class CrewRecord(BaseModel):
    """Base of crew records."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class LoadLine(CrewRecord):
    """One product of one block, or the water that carries it, in SI and in words.

    Attributes
    ----------
    product : str
        Its id; empty for the water.
    amount : float
        For the block's area, in the product's base unit (L, kg, seeds).
    nitrogen_kg_per_ha : float
    loads : float or None
        Loads that the amount makes; None when the machine's load is not stated.
    area_per_load_ha : float or None
    """

    product: str
    name: str
    form: str
    rate: float
    amount: float
    nitrogen_kg_per_ha: float = 0.0
    loads: float | None = None
    area_per_load_ha: float | None = None
    packages: int | None = None
    rate_text: str
    amount_text: str
    load_text: str = ""
    nitrogen_text: str = ""


def rate_per_ha(product: Product, text: str, factor: float) -> float:
    """Return a rate in base units per hectare; the factor moves products that carry nitrogen only."""
    return product.rate(text) * (factor if product.nitrogen_share > 0 else 1.0)


def load_lines(
    farm: Farm, rig: Rig | None, spec: PassSpec, area_ha: float, factor: float, words: Words
) -> tuple[LoadLine, ...]:
    """Return a line for every product of a pass on an area.

    Parameters
    ----------
    farm : Farm
    rig : Rig or None
        Whose load size counts; None on foot.
    spec : PassSpec
    area_ha : float
        Area of the block [ha].
    factor : float
        On nitrogen rates (see `Farm.tissue_factor`).
    words : Words
        Language of the texts.
    """
    per_load = None if rig is None else hectares_per_load(farm, rig.worker, spec, factor)
    lines = [_line(farm, spec, item, per_load, area_ha, factor, words) for item in spec.products]
    if spec.carrier_l_per_ha and spec.products:
        lines.append(_water(farm, spec.carrier_l_per_ha, per_load, area_ha, words))
    return tuple(lines)


def _line(
    farm: Farm, spec: PassSpec, item: ProductRate, per_load: float | None, area_ha: float, factor: float, words: Words
) -> LoadLine:  # fmt: skip
    product = farm.product_by_id[item.product]
    rate = rate_per_ha(product, item.rate, factor)
    amount = rate * area_ha
    nitrogen = product.nitrogen_kg(rate)
    packages = None if product.package_amount is None else ceil(round(amount / product.package_amount, 6))
    return LoadLine(
        product=product.id,
        name=product.label,
        form=product.form.value,
        rate=rate,
        amount=amount,
        nitrogen_kg_per_ha=nitrogen,
        loads=None if per_load is None else area_ha / per_load,
        area_per_load_ha=per_load,
        packages=packages,
        rate_text=_rate_text(farm, spec, product, rate, words) + _as_written(farm, item, product, rate),
        amount_text=amount_text(farm, product, amount, words),
        load_text=_load_text(
            farm, area_ha, per_load, words, lambda ha: _fill_text(farm, product, rate * ha, words)
        ),
        nitrogen_text=_nitrogen_text(farm, nitrogen, area_ha, words),
    )


def _water(farm: Farm, rate: float, per_load: float | None, area_ha: float, words: Words) -> LoadLine:
    value, unit = to_people(rate, RATE_KIND[Form.LIQUID], farm.units)
    return LoadLine(
        product="", name=words("Water"), form=Form.LIQUID.value, rate=rate, amount=rate * area_ha,
        loads=None if per_load is None else area_ha / per_load, area_per_load_ha=per_load,
        rate_text=f"{words.number(value, decimals(value))} {unit}", amount_text=bulk_text(farm, Form.LIQUID, rate * area_ha, words),
        load_text=_load_text(farm, area_ha, per_load, words, lambda ha: bulk_text(farm, Form.LIQUID, rate * ha, words)),
    )  # fmt: skip


def _as_written(farm: Farm, item: ProductRate, product: Product, rate: float) -> str:
    """Return the rate in the farm's own words where it stands there in another unit, as labels do."""
    unit = to_people(rate, RATE_KIND[product.form], farm.units)[1]
    moved = abs(product.rate(item.rate) - rate) > 1e-9 * rate
    return "" if moved or unit in item.rate else f" ({item.rate})"


def _rate_text(farm: Farm, spec: PassSpec, product: Product, rate: float, words: Words) -> str:
    value, unit = to_people(rate, RATE_KIND[product.form], farm.units)
    digits = 0 if product.form is Form.SEED else decimals(value)
    text = f"{words.number(value, digits)} {unit}"
    if product.form is Form.LIQUID and _TWO_SIDED & set(spec.operations) and product.nitrogen_share > 0:
        side = f"{words.number(value / 2, decimals(value / 2))} {unit.split('/')[0]}"
        text += " " + words("({amount} to each side of the row)", amount=side)
    return text


def amount_text(farm: Farm, product: Product, amount: float, words: Words) -> str:
    """Return an amount as people count it: packages where there are any, else gallons, pounds, litres."""
    bulk = bulk_text(farm, product.form, amount, words)
    if product.package_amount is None:
        return bulk
    count = ceil(round(amount / product.package_amount, 6))
    bags = words("{count} bags", count=words.number(count))
    return bags if product.form is Form.SEED else f"{bags} ({bulk})"


def bulk_text(farm: Farm, form: Form, amount: float, words: Words) -> str:
    """Return an amount without packages: gallons, pounds, litres; the water of a sprayer too."""
    value, unit = to_people(amount, AMOUNT_KIND[form], farm.units)
    return f"{words.number(value, 0 if form is Form.SEED else decimals(value, 0))} {unit}"


def _fill_text(farm: Farm, product: Product, amount: float, words: Words) -> str:
    """Return what goes into a machine at once: of packages also a part, since a box is filled to where it is full."""
    if product.package_amount is None:
        return amount_text(farm, product, amount, words)
    count = round(amount / product.package_amount, 1)
    return words("{count} bags", count=words.number(count, 0 if count.is_integer() else 1))


def _load_text(
    farm: Farm, area_ha: float, per_load_ha: float | None, words: Words, amount_on: Callable[[float], str]
) -> str:
    """Say how many loads an area takes, and what goes into each: `amount_on` tells the amount for hectares."""
    if per_load_ha is None:
        return ""
    loads = ceil(round(area_ha / per_load_ha, 6))
    value, unit = to_people(per_load_ha, "area_ha", farm.units)
    each = f"{words.number(value, 1)} {unit}"
    if loads <= 1:
        return words("one load is enough (a full load covers {area})", area=each)
    last_ha = area_ha - (loads - 1) * per_load_ha
    if last_ha < LAST_LEAST * per_load_ha:
        even_ha = area_ha / loads
        value, unit = to_people(even_ha, "area_ha", farm.units)
        each = f"{words.number(value, 1)} {unit}"
        line = "{loads} loads alike, refill every {area}: {amount} in each"
        return words(line, loads=loads, area=each, amount=amount_on(even_ha))
    return words(
        "{loads} loads, refill every {area}: {full} in each full one, {last} in the last", loads=loads, area=each,
        full=amount_on(per_load_ha), last=amount_on(last_ha),
    )  # fmt: skip


def _nitrogen_text(farm: Farm, nitrogen_kg_per_ha: float, area_ha: float, words: Words) -> str:
    if nitrogen_kg_per_ha <= 0:
        return ""
    rate, rate_unit = to_people(nitrogen_kg_per_ha, "rate_kg_per_ha", farm.units)
    total, unit = to_people(nitrogen_kg_per_ha * area_ha, "mass_kg", farm.units)
    mass, per = rate_unit.split("/")
    return f"{words.number(rate, 1)} {mass} N/{per}, {words.number(total)} {unit} N"
