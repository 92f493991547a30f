"""What one field takes in place of its programme: another seed, other rates, one product more.

Question answered: *what does this pass apply in this field?* A programme says what is usual. `seed` names what is sown in
the field instead, and `rates` holds entries as people write them, ``PASS RATE`` or ``PASS PRODUCT RATE``:

    plant 32000 seeds/ac
    band n32 28 gal/ac
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from scheduler.farm.land import Field
from scheduler.farm.product import RATE_KIND, Form, Product, ProductRate
from scheduler.farm.programme import PassSpec, Programme
from scheduler.farm.suggest import fault, unknown
from shared.errors import Fault
from shared.units import UnitFault, show

RATE_MOST_PER_HA = {Form.LIQUID: 3_000.0, Form.DRY: 3_000.0, Form.SEED: 2_000_000.0}
"""Rates above these are slips of the pen: litres, kilograms and seeds per hectare (common practice, no source)."""
HOW_WRITTEN = "PASS RATE or PASS PRODUCT RATE, such as plant 32000 seeds/ac"
Products = Mapping[str, Product]


@dataclass(frozen=True)
class OwnRate:
    """One entry of a field's own rates, read; `faults` say why it cannot be."""

    pass_id: str
    item: ProductRate | None = None
    faults: tuple[Fault, ...] = ()


def own_programme(programme: Programme, field: Field, products: Products) -> Programme:
    """Return the programme with the field's own seed and rates; entries that cannot be read are left out."""
    if not field.seed and not field.rates:
        return programme
    passes = {spec.id: spec for spec in _sown(programme, field, products).passes}
    for one in own_rates(programme, field, products, ""):
        if one.item is not None:
            passes[one.pass_id] = _with_item(passes[one.pass_id], one.item)
    return programme.model_copy(update={"passes": tuple(passes.values())})


def own_faults(
    key: str, programme: Programme, field: Field, products: Products, units: str
) -> Iterator[Fault]:
    """Yield what is wrong with a field's own seed and rates; `key` is the field's place in the farm."""
    if field.seed and field.seed not in products:
        yield unknown(f"{key}.seed", field.seed, "product", _seeds(products))
    elif field.seed and products[field.seed].form is not Form.SEED:
        yield fault(
            f"{key}.seed",
            field.seed,
            "is no seed",
            f"one of: {', '.join(_seeds(products)) or '(none described)'}",
        )
    elif field.seed and not any(_seed_items(spec, products) for spec in programme.passes):
        yield fault(
            f"{key}.seed",
            field.seed,
            f"is sown by no pass of {programme.id}",
            "nothing, or a programme that sows a seed",
        )
    for one in own_rates(programme, field, products, f"{key}.rates", units):
        yield from one.faults


def rate_faults(key: str, item: ProductRate, products: Products, units: str) -> Iterator[Fault]:
    """Yield what is wrong with a product and its rate; `key` is the place of the rate."""
    product = products[item.product]
    try:
        rate, most = product.rate(item.rate), RATE_MOST_PER_HA[product.form]
    except UnitFault as error:
        yield fault(key, item.rate, f"does not fit the product ({error.problem})", error.allowed)
        return
    if not 0 < rate <= most:
        yield fault(
            key, item.rate, "is not above 0" if rate <= 0 else "cannot be right",
            f"more than 0 and at most {show(most, RATE_KIND[product.form], units, 0)}",
        )  # fmt: skip


def own_rates(
    programme: Programme, field: Field, products: Products, key: str, units: str = "us"
) -> list[OwnRate]:
    """Return the entries of a field's own rates, each read or with its faults."""
    sown = _sown(programme, field, products)
    return [_read(text, sown, products, f"{key}.{number}", units) for number, text in enumerate(field.rates)]


def _read(text: str, programme: Programme, products: Products, key: str, units: str) -> OwnRate:
    name, _, rest = text.strip().partition(" ")
    spec = programme.find(name)
    if spec is None:
        return OwnRate(
            name, faults=(unknown(key, name, "pass of its programme", [one.id for one in programme.passes]),)
        )
    said, _, rate = rest.strip().partition(" ")
    if said not in products:
        applied = [item.product for item in spec.products]
        if len(applied) != 1 or not said[:1].isdigit():
            return OwnRate(name, faults=(_which(key, text, applied, said),))
        said, rate = applied[0], rest
    item = ProductRate(product=said, rate=rate.strip())
    faults = tuple(rate_faults(key, item, products, units))
    return OwnRate(name, None if faults else item, faults)


def _which(key: str, text: str, applied: list[str], said: str) -> Fault:
    if not said:
        problem = "names no rate"
    elif not said[0].isdigit():
        problem = f"names {said!r}, which is no product of this farm"
    elif applied:
        problem = f"does not say which of {' and '.join(applied)}"
    else:
        problem = "names no product, and the pass has none"
    return fault(key, text, problem, HOW_WRITTEN)


def _sown(programme: Programme, field: Field, products: Products) -> Programme:
    """Return the programme with the field's seed in place of the usual one."""
    if field.seed not in products or products[field.seed].form is not Form.SEED:
        return programme
    return programme.model_copy(
        update={"passes": tuple(_with_seed(spec, field.seed, products) for spec in programme.passes)}
    )


def _with_seed(spec: PassSpec, seed: str, products: Products) -> PassSpec:
    usual = _seed_items(spec, products)
    items = tuple(one.model_copy(update={"product": seed}) if one in usual else one for one in spec.products)
    return spec.model_copy(update={"products": items}) if usual else spec


def _seed_items(spec: PassSpec, products: Products) -> list[ProductRate]:
    """Return what is sown as seed in a pass (a cover mix is counted dry)."""
    return [
        item
        for item in spec.products
        if item.product in products and products[item.product].form is Form.SEED
    ]


def _with_item(spec: PassSpec, item: ProductRate) -> PassSpec:
    """Return the pass with a product at this rate: in place of the usual rate, or as one product more."""
    kept = [item if one.product == item.product else one for one in spec.products]
    if item not in kept:
        kept.append(item)
    return spec.model_copy(update={"products": tuple(kept)})


def _seeds(products: Products) -> list[str]:
    return [one.id for one in products.values() if one.form is Form.SEED]
