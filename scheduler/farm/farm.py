"""The farm as a whole: every record, found by id, and the settings that steer planning."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from functools import cached_property
from math import asin, cos, radians, sin, sqrt
from typing import Annotated, Any, Literal
from zoneinfo import available_timezones

from pydantic import BeforeValidator, ValidationInfo
from pydantic import Field as Key

from scheduler.farm.field_rates import own_programme
from scheduler.farm.land import Field, Yard
from scheduler.farm.machine import Machine
from scheduler.farm.operator import Operator
from scheduler.farm.product import Product
from scheduler.farm.programme import PassSpec, Programme, TissueRule
from scheduler.farm.quantities import (
    Clock,
    Minutes,
    MoneyOrNumber,
    MoneyPerH,
    MoneyPerKm,
    Record,
    fault,
    is_written,
)  # fmt: skip
from scheduler.farm.record_settings import RecordSettings
from scheduler.farm.road_table import Road
from scheduler.farm.service_settings import OutletSettings, ServiceSettings, StoreSettings
from shared.units import UnitFault, parse_crop_amount
from shared.weather_records import Place

PRICE_MOST_PER_T = 10_000.0


def _prices(value: Any, info: ValidationInfo) -> dict[str, float]:
    """Read ``{corn = "4.40 $/bu"}`` as money per tonne."""
    if not isinstance(value, Mapping):
        raise fault("is not a table of prices", 'a table [price] with lines such as corn = "4.40 $/bu"')
    out: dict[str, float] = {}
    for crop, text in value.items():
        plain = isinstance(text, float) and not is_written(info)
        try:
            out[crop] = float(text) if plain else parse_crop_amount(text, crop, "t")
        except UnitFault as error:
            raise fault(f"({crop} = {text}) {error.problem}", error.allowed) from error
        if not 0 < out[crop] <= PRICE_MOST_PER_T:
            raise fault(
                f"({crop} = {text}) cannot be right", f"more than 0 and at most {PRICE_MOST_PER_T:,.0f} $/t"
            )
    return out


def _time_zone(value: Any) -> Any:
    known = available_timezones()
    if isinstance(value, str) and value in known:
        return value
    near = get_close_matches(str(value), known, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}? " if near else ""
    raise fault("is no time zone", f"{hint}an IANA name such as America/Chicago")


class PlanSettings(Record):
    """How plans are made; every coefficient can be overridden.

    Attributes
    ----------
    horizon_days : int
        Days planned exactly.
    fit_chance_least : float
        An hour is planned only when its chance of being fit reaches this.
    risk_by : str
        How doubtful hours are counted: ``hours``, ``members`` or ``stretched`` (see `planning.doubt`).
    seconds, workers, seed
        Effort of the engine.
    block_minutes_least : float
        Smallest block of work.
    road_factor : float
        Road distance over great-circle distance [-].
    pickup_speed_km_h : float
        Speed of people changing between fields without a machine.
    road_cost_per_km : float
        Fuel, wear and risk of moving a rig on the road.
    change_cost : float
        Price of moving a block that people were already told of for today; it fades with days ahead.
    handover_cost : float
        What it costs when somebody else takes over a machine during a day, and when a person takes another machine: two people's
        time and a ride (assumption).
    undone_share : float
        Share of the loss of a whole window charged for work that does not fit the season at all.
    learn_pace : bool
        Whether plans count on what reports taught about how long a machine's work takes.
    region : str
        Name of the planting-date response table.
    """

    horizon_days: int = Key(default=14, ge=1, le=28)
    fit_chance_least: float = Key(default=0.35, ge=0.05, le=0.99)
    risk_by: Literal["hours", "members", "stretched"] = "members"
    seconds: float = Key(default=20.0, ge=0.1, le=3600)
    workers: int = Key(default=2, ge=1, le=64)
    seed: int = 1
    block_minutes_least: Minutes = 60.0
    road_factor: float = Key(default=1.3, ge=1.0, le=5.0)
    pickup_speed_km_h: float = Key(default=55.0, gt=0, le=120)
    road_cost_per_km: MoneyPerKm = Key(default=1.5, alias="road_cost")
    change_cost: MoneyOrNumber = Key(default=60.0, ge=0)
    handover_cost: MoneyOrNumber = Key(default=40.0, ge=0)
    lost_hour_cost_per_h: MoneyPerH = Key(default=80.0, alias="lost_hour_cost")
    service_minutes: Minutes = Key(default=20.0, alias="daily_service")
    learn_pace: bool = True
    region: str = "illinois"
    collar_rate: str = ""
    issue_at: Clock = Key(default="05:00", validate_default=True)


class WeatherSettings(Record):
    """Which weather adapters, in order of preference, and their options (checked by the adapters).

    Attributes
    ----------
    source : str
        One adapter for everything; the lists below go before it.
    forecast, observed, history : tuple of str
        Who is asked for what may come, what was, and past years; the next one when one fails.
    """

    source: str = "recorded"
    forecast: tuple[str, ...] = ()
    observed: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    folder: str = "weather"
    gauge_reach_km: float = Key(default=3.0, gt=0, le=100)
    options: dict[str, Any] = Key(default_factory=dict)


Prices = Annotated[dict[str, float], BeforeValidator(_prices)]


class Farm(Record):
    """Everything the farm file says.

    Attributes
    ----------
    price_per_t : mapping of crop to money per tonne
    fit_limits : mapping
        Overrides of the fit table, by operation.
    """

    name: str
    time_zone: Annotated[str, BeforeValidator(_time_zone)]
    latitude_deg: float = Key(alias="latitude", ge=-66, le=66)
    longitude_deg: float = Key(alias="longitude", ge=-180, le=180)
    elevation_m: float = Key(default=250.0, alias="elevation_m", ge=-400, le=5000)
    units: str = Key(default="us", pattern="^(us|metric)$")
    yards: tuple[Yard, ...] = Key(alias="yard", min_length=1)
    fields: tuple[Field, ...] = Key(min_length=1)
    roads: tuple[Road, ...] = Key(alias="road", default=())
    machines: tuple[Machine, ...] = Key(alias="machine", default=())
    operators: tuple[Operator, ...] = Key(alias="operator", min_length=1)
    products: tuple[Product, ...] = Key(alias="product", default=())
    programmes: tuple[Programme, ...] = Key(alias="programme", min_length=1)
    price_per_t: Prices = Key(alias="price")
    plan: PlanSettings = PlanSettings()
    weather: WeatherSettings = WeatherSettings()
    store: StoreSettings = StoreSettings()
    service: ServiceSettings = ServiceSettings()
    outlets: tuple[OutletSettings, ...] = Key(alias="outlet", default=())
    tissue: TissueRule = TissueRule()
    records: RecordSettings = RecordSettings()
    fit_limits: dict[str, dict[str, Any]] = Key(default_factory=dict)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Farm:
        """Return a changed copy that looks things up anew (a plain copy would keep the old look-ups)."""
        copy = super().model_copy(update=update, deep=deep)
        for name in [name for name in copy.__dict__ if name not in type(self).model_fields]:
            del copy.__dict__[name]
        return copy

    @property
    def place(self) -> Place:
        """Where the farm's weather is taken."""
        return Place(self.latitude_deg, self.longitude_deg, self.elevation_m)

    @cached_property
    def field_by_id(self) -> dict[str, Field]:
        """Fields by id."""
        return {field.id: field for field in self.fields}

    @cached_property
    def machine_by_id(self) -> dict[str, Machine]:
        """Machines by id."""
        return {machine.id: machine for machine in self.machines}

    @cached_property
    def operator_by_id(self) -> dict[str, Operator]:
        """Operators by id."""
        return {person.id: person for person in self.operators}

    @cached_property
    def product_by_id(self) -> dict[str, Product]:
        """Products by id."""
        return {product.id: product for product in self.products}

    @cached_property
    def programme_by_id(self) -> dict[str, Programme]:
        """Programmes by id."""
        return {programme.id: programme for programme in self.programmes}

    @cached_property
    def road_by_ends(self) -> dict[tuple[str, str], Road]:
        """Rows of the road table by their two ends, both ways round; a row the other way round goes before a turned one."""
        turned = {(road.to_id, road.from_id): road for road in self.roads}
        return turned | {(road.from_id, road.to_id): road for road in self.roads}

    def programme_of(self, field: Field) -> Programme:
        """Return the programme of a field, with the seed and the rates of its own."""
        key = (field.programme, field.seed, field.rates)
        if key not in self._own_programmes:
            self._own_programmes[key] = own_programme(
                self.programme_by_id[field.programme], field, self.product_by_id
            )
        return self._own_programmes[key]

    @cached_property
    def _own_programmes(self) -> dict[tuple[str, str, tuple[str, ...]], Programme]:
        return {}

    def spec(self, field_id: str, pass_id: str) -> PassSpec | None:
        """Return the rule of a pass in a field, or None."""
        field = self.field_by_id.get(field_id)
        return None if field is None else self.programme_of(field).find(pass_id)

    def taken_by(self, spec: PassSpec, factor: float = 1.0) -> dict[str, float]:
        """Return what a hectare of a pass takes of each product, in base units (L, kg, seeds).

        `factor` moves the rate of products that carry nitrogen.
        """
        out: dict[str, float] = {}
        for item in spec.products:
            product = self.product_by_id[item.product]
            rate = product.rate(item.rate) * (factor if product.nitrogen_share > 0 else 1.0)
            out[item.product] = out.get(item.product, 0.0) + rate
        return out

    def tissue_factor(self, spec: PassSpec, field_id: str, factors: Mapping[str, float]) -> float:
        """Return what tissue results, by field, make of the nitrogen rates of a pass; 1 for passes that they do not steer."""
        return factors.get(field_id, 1.0) if spec.id in self.tissue.passes else 1.0

    def goes_by_tissue(self, field_id: str) -> bool:
        """Tell whether a tissue result sets the rate of some pass of a field."""
        return any(self.spec(field_id, name) is not None for name in self.tissue.passes)

    def pass_label(self, pass_id: str) -> str:
        """Return what a pass is called over all programmes: its name where they agree, else its id in plain words."""
        specs = (programme.find(pass_id) for programme in self.programmes)
        names = {spec.label for spec in specs if spec is not None}
        return names.pop() if len(names) == 1 else pass_id.replace("-", " ").capitalize()

    def field_label(self, name: str) -> str:
        """Return what a field is called; what the farm does not have (any more) by its id."""
        found = self.field_by_id.get(name)
        return found.label if found is not None else name

    def machine_label(self, name: str) -> str:
        """Return what a machine is called; what the farm does not have (any more) by its id."""
        found = self.machine_by_id.get(name)
        return found.label if found is not None else name

    def operator_label(self, name: str) -> str:
        """Return what a person is called; who is not (or no longer) on the farm by the id."""
        found = self.operator_by_id.get(name)
        return found.label if found is not None else name

    def yard_of(self, thing: Field | Machine | Operator) -> Yard:
        """Return the yard where a machine or person starts, or the first one."""
        wanted = next((yard for yard in self.yards if yard.id == thing.yard), None)
        return wanted or self.yards[0]


EARTH_RADIUS_KM = 6371.0088


def great_circle_km(a: Field | Yard, b: Field | Yard) -> float:
    """Return the great-circle distance [km] (haversine, mean Earth radius of IUGG)."""
    lat_a, lat_b = radians(a.latitude_deg), radians(b.latitude_deg)
    half = sin((lat_b - lat_a) / 2) ** 2
    half += cos(lat_a) * cos(lat_b) * sin(radians(b.longitude_deg - a.longitude_deg) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * asin(min(1.0, sqrt(half)))
