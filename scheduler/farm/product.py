"""Products: nitrogen solutions, seed, crop protection, cover-crop seed. Rates, stock, deliveries, label limits."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Annotated, Any

from pydantic import BeforeValidator
from pydantic import Field as Key

from scheduler.farm.cell_texts import FromDeliveryText
from scheduler.farm.quantities import DensityKgL, Hours, IsoDate, Record, Share, TemperatureC, WindMS, fault
from shared.units import UnitFault, parse


class Form(StrEnum):
    """How a product is counted: liquids in litres, dry goods in kilograms, seed in kernels."""

    LIQUID = "liquid"
    DRY = "dry"
    SEED = "seed"


RATE_KIND = {Form.LIQUID: "rate_l_per_ha", Form.DRY: "rate_kg_per_ha", Form.SEED: "rate_seeds_per_ha"}
BASE_UNIT = {Form.LIQUID: "L", Form.DRY: "kg", Form.SEED: "seeds"}
AMOUNT_KIND = {Form.LIQUID: "volume_l", Form.DRY: "mass_kg", Form.SEED: "count"}


class Delivery(Record):
    """A dated delivery; `amount` is text with its unit until the product's form is known."""

    id: str = ""
    date: IsoDate
    amount: str


class Product(Record):
    """Something that is applied or sown.

    Attributes
    ----------
    form : Form
        Decides the base unit of amounts: L, kg or seeds.
    density_kg_per_l : float or None
        For liquids [kg/L].
    nitrogen_share : float
        Mass of N per mass of product [-].
    package : str
        What one package (bag) holds, e.g. ``"80000 seeds"`` or ``"50 lb"``; empty for bulk.
    stock : str
        What is there when the log begins; may be counted in packages (``"640 bags"``).
    licence : str
        Licence that the operator needs; empty for none.
    reentry_hours : float
        Time after application before people walk in [h].
    rain_free_hours : float
        Dry hours wanted after application [h].
    """

    id: str
    name: str = ""
    form: Form
    density_kg_per_l: DensityKgL | None = Key(default=None, alias="density")
    nitrogen_share: Share = Key(default=0.0, alias="nitrogen")
    package: str = ""
    stock: str = "0"
    deliveries: Annotated[tuple[Delivery, ...], FromDeliveryText] = Key(default=(), alias="delivery")
    licence: str = ""
    restricted_use: bool = False
    registration: str = ""
    reentry_hours: Hours = Key(default=0.0, alias="reentry")
    rain_free_hours: Hours = Key(default=0.0, alias="rain_free")
    wind_most_m_s: WindMS | None = Key(default=None, alias="wind_most")
    temp_least_c: TemperatureC | None = Key(default=None, alias="air_least")
    temp_most_c: TemperatureC | None = Key(default=None, alias="air_most")

    @property
    def label(self) -> str:
        """Name shown to people."""
        return self.name or self.id

    @property
    def package_amount(self) -> float | None:
        """What a package holds in base units (L, kg, seeds); None for bulk."""
        return parse(self.package, AMOUNT_KIND[self.form]) if self.package else None

    def amount(self, text: str) -> float:
        """Read an amount in base units; ``"40 bags"`` counts packages.

        Raises
        ------
        UnitFault
            Not an amount of this product's form, or packages of a bulk product.
        """
        bags = re.fullmatch(r"\s*([0-9.,eE+-]+)\s*(bags?|units?|boxes)\s*", str(text))
        if bags:
            if self.package_amount is None:
                raise UnitFault("counts packages of a bulk product", "an amount such as 1200 gal")
            return float(bags.group(1).replace(",", "")) * self.package_amount
        if str(text).strip() == "0":
            return 0.0
        return parse(text, AMOUNT_KIND[self.form])

    def rate(self, text: str) -> float:
        """Read a rate per hectare in base units."""
        return parse(text, RATE_KIND[self.form])

    def nitrogen_kg(self, amount: float) -> float:
        """Return the nitrogen in an amount [kg]."""
        mass = amount * (self.density_kg_per_l or 1.0) if self.form is Form.LIQUID else amount
        return mass * self.nitrogen_share if self.form is not Form.SEED else 0.0


def _rate_text(value: Any) -> str:
    if not isinstance(value, str):
        raise fault("has no unit", 'a rate with its unit such as "24 gal/ac"')
    return value


class ProductRate(Record):
    """A product and its rate on a pass; the rate is text with its unit."""

    product: str
    rate: Annotated[str, BeforeValidator(_rate_text)]
