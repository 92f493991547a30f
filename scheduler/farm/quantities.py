"""Pydantic field types that read quantities with units ("62 ac") and keep SI floats."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time
from re import fullmatch
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo
from pydantic_core import PydanticCustomError

from shared.units import UnitFault, parse


class Record(BaseModel):
    """Base of every farm record: frozen, unknown keys are faults, files use the alias, code the SI name."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


WRITTEN = {"written": True}
"""Context of validation for values out of files: there a bare number is a fault, in Python code it is SI."""


def is_written(info: ValidationInfo) -> bool:
    """Return whether the value comes out of a file, where units are written with the numbers."""
    return bool((info.context or {}).get("written"))


def fault(problem: str, allowed: str) -> PydanticCustomError:
    """Build the error that the fault list turns into a sentence."""
    return PydanticCustomError("farm_fault", "{problem}", {"problem": problem, "allowed": allowed})


def quantity(
    kind: str, above: float | None = None, least: float | None = None, most: float | None = None
) -> Any:
    """Return a validator that reads a quantity of `kind` and keeps it between bounds (in SI).

    Numbers out of files must carry their unit (see `WRITTEN`); numbers from Python code are taken as SI.
    """

    def read(value: Any, info: ValidationInfo) -> float:
        plain = isinstance(value, int | float) and not isinstance(value, bool) and not is_written(info)
        try:
            number = float(value) if plain else parse(value, kind)
        except UnitFault as error:
            raise fault(error.problem, error.allowed) from error
        return within(number, above, least, most, KIND_BOUND_TEXT(kind))

    return BeforeValidator(read)


def KIND_BOUND_TEXT(kind: str) -> Callable[[float], str]:
    """Return how a bound of `kind` is written for a person, in both systems."""
    from shared.units import show

    def text(bound: float) -> str:
        if kind == "share":
            return show(bound, kind, "us", 0)
        us, metric = show(bound, kind, "us", 2), show(bound, kind, "metric", 2)
        return us if us == metric else f"{us} ({metric})"

    return text


def within(
    number: float, above: float | None, least: float | None, most: float | None, text: Callable[[float], str]
) -> float:
    """Return `number` when it is inside its bounds, else raise the fault that names them."""
    low = (
        f"more than {text(above)}"
        if above is not None
        else f"at least {text(least)}"
        if least is not None
        else ""
    )
    high = f"at most {text(most)}" if most is not None else ""
    allowed = " and ".join(part for part in (low, high) if part)
    if (above is not None and not number > above) or (least is not None and not number >= least):
        raise fault("is too small", allowed)
    if most is not None and not number <= most:
        raise fault("is too large", allowed)
    return number


def _sum(value: Any) -> float:
    """Read a sum of money, with its sign or as a bare number (farm files had these bare from the beginning)."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    try:
        return parse(value, "money")
    except UnitFault as error:
        raise fault(error.problem, error.allowed) from error


AreaHa = Annotated[float, quantity("area_ha", above=0.0, most=20_000.0)]
WidthM = Annotated[float, quantity("length_m", above=0.0, most=60.0)]
LengthM = Annotated[float, quantity("length_m", least=0.0, most=5_000.0)]
DepthM = Annotated[float, quantity("depth_m", least=0.0, most=1.0)]
RainMm = Annotated[float, quantity("rain_mm", least=0.0, most=500.0)]
SpeedKmH = Annotated[float, quantity("speed_km_h", above=0.0, most=80.0)]
WindMS = Annotated[float, quantity("wind_m_s", least=0.0, most=40.0)]
Minutes = Annotated[float, quantity("minutes", least=0.0, most=24 * 60.0)]
Hours = Annotated[float, quantity("hours", least=0.0, most=24.0 * 7)]
Days = Annotated[float, quantity("days", least=0.0, most=365.0)]
VolumeL = Annotated[float, quantity("volume_l", least=0.0, most=200_000.0)]
MassKg = Annotated[float, quantity("mass_kg", least=0.0, most=200_000.0)]
RateLHa = Annotated[float, quantity("rate_l_per_ha", least=0.0, most=2_000.0)]
DensityKgL = Annotated[float, quantity("density_kg_per_l", above=0.3, most=3.0)]
Share = Annotated[float, quantity("share", least=0.0, most=1.0)]
Efficiency = Annotated[float, quantity("share", above=0.05, most=1.0)]
MoneyPerHa = Annotated[float, quantity("money_per_ha", least=0.0, most=100_000.0)]
MoneyPerH = Annotated[float, quantity("money_per_h", least=0.0, most=10_000.0)]
MoneyPerKm = Annotated[float, quantity("money_per_km", least=0.0, most=1_000.0)]
Money = Annotated[float, quantity("money", least=0.0)]
MoneyOrNumber = Annotated[float, BeforeValidator(_sum)]
TemperatureC = Annotated[float, quantity("temperature_c", least=-40.0, most=60.0)]


def _iso_date(value: Any) -> Any:
    if (isinstance(value, date) and not isinstance(value, datetime)) or value is None:
        return value
    try:
        return date.fromisoformat(str(value).strip())
    except ValueError as error:
        raise fault("is not a date", "a date such as 2027-05-10") from error


def _clock(value: Any) -> Any:
    if isinstance(value, time) and value.tzinfo is None:
        return value
    text = str(value).strip()
    try:
        if not fullmatch(r"\d{1,2}:\d{2}(:\d{2})?", text):
            raise ValueError(text)
        return time.fromisoformat(text if text[2:3] == ":" else f"0{text}")
    except ValueError as error:
        raise fault("is not a time of day", "a time such as 06:30") from error


IsoDate = Annotated[date, BeforeValidator(_iso_date)]
Clock = Annotated[time, BeforeValidator(_clock)]
