"""People write "24 gal/ac"; the core computes in SI. The border between the two, in both directions.

A *quantity kind* names the dimension of a value in a farm file and the SI unit it is kept in. `parse` reads a
text such as ``"62 ac"``, ``"5.5 mph"`` or ``"12 h"`` (or a bare number already in the kind's SI unit is refused:
units are written with the numbers). `show` writes a value for a person in US customary or metric units.

Factors: the international acre is 4046.8564224 m2 and the US gallon 3.785411784 L (both exact, NIST Handbook 44
Appendix C; NIST SP 811 Appendix B). A bushel here is the trade's mass bushel: 56 lb of corn, 60 lb of soybean
(US grain standards, 7 CFR 810; from memory).
"""

from __future__ import annotations

import re
import tokenize
from dataclasses import dataclass
from functools import lru_cache
from math import floor, log10

import pint

_DEFINITIONS = """
metre = [length] = m = meter
second = [time] = s = sec
kilogram = [mass] = kg
degC_step = [temperature] = degC_step
dollar = [money] = dollar = USD
seed = [seed] = seed = seeds = kernel = kernels
row = [row] = row = rows
bag = [bag] = bag = bags = unit = units
gram = 1e-3 kilogram = g
tonne = 1000 kilogram = t = ton_metric
pound = 0.45359237 kilogram = lb = lbs
ounce = 0.028349523125 kilogram = oz
kilometre = 1000 metre = km = kilometer
centimetre = 0.01 metre = cm = centimeter
millimetre = 0.001 metre = mm = millimeter
inch = 0.0254 metre = in = inches
foot = 0.3048 metre = ft = feet
mile = 1609.344 metre = mi = miles
minute = 60 second = min = minutes
hour = 3600 second = h = hr = hours
day = 86400 second = d = days
square_metre = metre ** 2 = m2
acre = 4046.8564224 metre ** 2 = ac = acres
hectare = 10000 metre ** 2 = ha = hectares
litre = [volume] = L = liter = l = litres
gallon = 3.785411784 litre = gal = gallons
fluid_ounce = 0.0295735295625 litre = floz
pint_us = 0.473176473 litre = pt
quart = 0.946352946 litre = qt
mph = mile / hour
kmh = kilometre / hour = kph
percent = 0.01 = pct
cent = 0.01 dollar = cents
corn_bushel = 25.40117272 kilogram
soybean_bushel = 27.2155422 kilogram
"""


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry:
    """Return the registry of the units that farm files may use.

    Volumes are a dimension of their own: else "24 gal/ac" would be a depth, and "30 ft" a rate.
    """
    units: pint.UnitRegistry = pint.UnitRegistry(None, cache_folder=None)
    units.load_definitions(_DEFINITIONS.strip().splitlines())
    return units


@dataclass(frozen=True)
class Kind:
    """A dimension of values in files.

    Attributes
    ----------
    name : str
        What a person calls it ("an area").
    si : str
        Unit of the value inside the program.
    example : str
        How to write it, used in error messages.
    us, metric : str
        Units in which people are shown the value.
    """

    name: str
    si: str
    example: str
    us: str
    metric: str


KINDS: dict[str, Kind] = {
    "area_ha": Kind("an area", "ha", '"62 ac" or "25 ha"', "ac", "ha"),
    "length_m": Kind("a length", "m", '"30 ft" or "9 m"', "ft", "m"),
    "depth_m": Kind("a depth", "m", '"2 in" or "5 cm"', "in", "cm"),
    "rain_mm": Kind("a depth of rain", "mm", '"0.4 in" or "10 mm"', "in", "mm"),
    "distance_km": Kind("a distance", "km", '"3 mi" or "5 km"', "mi", "km"),
    "speed_km_h": Kind("a speed", "km/h", '"5.5 mph" or "9 km/h"', "mph", "km/h"),
    "wind_m_s": Kind("a wind speed", "m/s", '"10 mph" or "4.5 m/s"', "mph", "m/s"),
    "minutes": Kind("a duration", "min", '"15 min" or "0.25 h"', "min", "min"),
    "hours": Kind("a duration", "h", '"10 h"', "h", "h"),
    "days": Kind("a number of days", "d", '"3 days" or "12 h"', "days", "days"),
    "volume_l": Kind("a volume", "L", '"1600 gal" or "6000 L"', "gal", "L"),
    "mass_kg": Kind("a mass", "kg", '"50 lb" or "20 kg"', "lb", "kg"),
    "count": Kind("a count of seeds", "seed", '"80000 seeds"', "seeds", "seeds"),
    "density_kg_per_l": Kind("a density", "kg/L", '"11.06 lb/gal" or "1.32 kg/L"', "lb/gal", "kg/L"),
    "rate_l_per_ha": Kind("a rate", "L/ha", '"24 gal/ac" or "225 L/ha"', "gal/ac", "L/ha"),
    "rate_kg_per_ha": Kind("a rate", "kg/ha", '"15 lb/ac" or "17 kg/ha"', "lb/ac", "kg/ha"),
    "rate_seeds_per_ha": Kind("a seed rate", "seeds/ha", '"34000 seeds/ac"', "seeds/ac", "seeds/ha"),
    "share": Kind("a share", "", '"65 %" or 0.65', "%", "%"),
    "money_per_ha": Kind("a price per area", "dollar/ha", '"14 $/ac"', "$/ac", "$/ha"),
    "money_per_h": Kind("a price per hour", "dollar/h", '"26 $/h"', "$/h", "$/h"),
    "money_per_km": Kind("a price per distance", "dollar/km", '"3 $/mi"', "$/mi", "$/km"),
    "money": Kind("a sum of money", "dollar", '"250 $"', "$", "$"),
    "temperature_c": Kind("a temperature", "degC", '"50 degF" or "10 degC"', "degF", "degC"),
}  # fmt: skip


class UnitFault(ValueError):
    """A text is not a quantity of the wanted kind; ``problem`` and ``allowed`` complete the sentence."""

    def __init__(self, problem: str, allowed: str) -> None:
        super().__init__(f"{problem}; allowed: {allowed}")
        self.problem = problem
        self.allowed = allowed


_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(?![\d,])")


def _without_commas(text: str) -> str:
    """Take thousands separators out; any other comma (``"62,5 ac"``) is no number here."""
    body = text.strip()
    if "," in body and not _THOUSANDS.match(body.removeprefix("$").strip()):
        raise ValueError(text)
    return body.replace(",", "")


def _normal(text: str) -> str:
    """Spell a unit text the way the registry reads it."""
    out = text.strip().replace("$", " dollar").replace("%", " percent").replace("²", "2")
    return out.replace("fl oz", "floz").replace(",", "")


def _split(text: str) -> tuple[float, str]:
    """Split ``"24 gal/ac"`` into number and unit."""
    body = _without_commas(text)
    if body.startswith("$"):
        body = body[1:].strip()
        number, _, rest = body.partition("/")
        return float(number), "dollar" + (f"/{rest}" if rest else "")
    cut = len(body)
    while cut > 0:
        try:
            return float(body[:cut]), body[cut:].strip()
        except ValueError:
            cut -= 1
    raise ValueError(text)


def _temperature(number: float, unit: str) -> float:
    """Return degC from a number with °F or °C."""
    name = unit.replace("°", "").replace("deg", "").strip().upper()
    if name == "F":
        return (number - 32.0) / 1.8
    if name == "C":
        return number
    raise ValueError(unit)


# What the unit library raises for a text that is no quantity ("1 //" among them).
_NOT_A_QUANTITY = (
    ValueError, AttributeError, TypeError, KeyError, AssertionError, ArithmeticError, SyntaxError,
    tokenize.TokenError, pint.errors.PintError,
)  # fmt: skip


def parse(text: str | float | int, kind: str) -> float:
    """Read a quantity.

    Parameters
    ----------
    text : str or number
        Number with its unit. Bare numbers are taken only for shares.
    kind : str
        Key of `KINDS`.

    Returns
    -------
    float
        Value in the kind's SI unit.

    Raises
    ------
    UnitFault
        The text is not a number with a unit of this kind.
    """
    wanted = KINDS[kind]
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise UnitFault(f"is not {wanted.name}", wanted.example)
    if not isinstance(text, str):
        if kind == "share":
            return float(text)
        raise UnitFault("has no unit", f"{wanted.name} with its unit such as {wanted.example}")
    return _read(text, kind)


@lru_cache(maxsize=4096)
def _read(text: str, kind: str) -> float:
    """Read a quantity out of a text; the same few rates and amounts are asked for by every pass of every field."""
    wanted = KINDS[kind]
    try:
        number, unit = _split(text)
        if number != number or number in (float("inf"), float("-inf")):
            raise ValueError(text)
        if kind == "temperature_c":
            return _temperature(number, unit)
        if kind == "share":
            return number / 100.0 if unit in ("%", "percent", "pct") else _bare(number, unit)
        if not unit:
            raise UnitFault("has no unit", f"{wanted.name} with its unit such as {wanted.example}")
        return float(registry().Quantity(number, _normal(unit)).to(_normal(wanted.si)).magnitude)
    except UnitFault:
        raise
    except _NOT_A_QUANTITY as error:
        raise UnitFault(f"is not {wanted.name}", f"{wanted.name} such as {wanted.example}") from error


def _bare(number: float, unit: str) -> float:
    if unit:
        raise ValueError(unit)
    return number


@lru_cache(maxsize=256)
def factor(from_unit: str, to_unit: str) -> float:
    """Return what a value in `from_unit` is multiplied by to be in `to_unit`."""
    source, target = _normal(from_unit) or "", _normal(to_unit) or ""
    return float(registry().Quantity(1.0, source).to(target).magnitude)


def to_people(value: float, kind: str, system: str) -> tuple[float, str]:
    """Return a value and its unit as people of the `system` ("us" or "metric") read it."""
    wanted = KINDS[kind]
    unit = wanted.us if system == "us" else wanted.metric
    if kind == "temperature_c":
        return (value * 1.8 + 32.0, "°F") if system == "us" else (value, "°C")
    if kind == "share":
        return value * 100.0, "%"
    return value * factor(wanted.si, unit), unit


def decimals(value: float, least: int = 1) -> int:
    """Return the decimals that keep three figures of a value, at least `least`: a quart is 0.250 of a gallon, not 0.3."""
    return least if value == 0 else min(6, max(least, 2 - floor(log10(abs(value)))))


def show(value: float, kind: str, system: str, digits: int = 1) -> str:
    """Write a value with its unit for a person."""
    number, unit = to_people(value, kind, system)
    text = f"{number:,.{digits}f}"
    return f"${text}{unit[1:]}" if unit.startswith("$") else f"{text} {unit}"


BUSHEL_KG = {"corn": 25.40117272, "soybean": 27.2155422}


def parse_crop_amount(text: str | float | int, crop: str, per: str) -> float:
    """Read a yield (``per="ha"``: t/ha) or a price (``per="t"``: money/t) that may be written in bushels."""
    allowed = '"210 bu/ac" or "13.2 t/ha"' if per == "ha" else '"4.40 $/bu" or "173 $/t"'
    what = "a yield" if per == "ha" else "a price"
    if not isinstance(text, str):
        raise UnitFault("has no unit", f"{what} with its unit such as {allowed}")
    if crop not in BUSHEL_KG:
        raise UnitFault("belongs to a crop that is not known", "corn or soybean")
    try:
        number, unit = _split(text)
        unit = _normal(unit).replace("bu", f"{crop}_bushel")
        target = "tonne/hectare" if per == "ha" else "dollar/tonne"
        return float(registry().Quantity(number, unit).to(target).magnitude)
    except _NOT_A_QUANTITY as error:
        raise UnitFault(f"is not {what}", f"{what} such as {allowed}") from error
