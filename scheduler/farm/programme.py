"""Crop programmes: the ordered passes a crop needs, with the lags and windows between them."""

from __future__ import annotations

from typing import Any

from pydantic import Field as Key

from scheduler.farm.product import ProductRate
from scheduler.farm.quantities import (
    Days,
    Hours,
    IsoDate,
    LengthM,
    Minutes,
    MoneyPerHa,
    RateLHa,
    Record,
    Share,
    TemperatureC,
)
from shared.vocabulary import Operation


class After(Record):
    """A lag to an earlier pass: at least and at most so long from its end to this one's start.

    Where it is not `required`, it says which of the two comes first: when the earlier one is never done, this one goes all
    the same.
    """

    pass_id: str = Key(alias="pass")
    at_least_days: Days = Key(default=0.0, alias="at_least")
    at_most_days: Days | None = Key(default=None, alias="at_most")
    required: bool = True


class WindowRule(Record):
    """When a pass may run (hard) and is best (soft); unset parts come from the default table.

    `stage_from` and `stage_to` are included. `before_planting` / `after_planting` bound the days to the planting
    of the same field where it is planned or known.
    """

    first_date: IsoDate | None = None
    last_date: IsoDate | None = None
    ideal_from: IsoDate | None = None
    ideal_to: IsoDate | None = None
    stage_from: str | None = None
    stage_to: str | None = None
    ideal_stage_from: str | None = None
    ideal_stage_to: str | None = None
    crop_height_most_m: LengthM | None = Key(default=None, alias="crop_height_most")
    soil_temp_least_c: TemperatureC | None = Key(default=None, alias="soil_least")
    variant: str = ""


class TissueRule(Record):
    """How a tissue result moves the side-dress rate: linear between two sufficiency levels.

    At or above `enough_pct` the rate is multiplied by `least_factor`, at or below `short_pct` by `most_factor`,
    linear between. The default levels are an assumption of this project; a laboratory's own scale belongs here.
    A sample is of use to a pass of `passes` only where it is taken `result_days` before it (common practice, no source).
    """

    nutrient: str = "N"
    short_pct: float = Key(default=3.0, gt=0, le=10)
    enough_pct: float = Key(default=4.0, gt=0, le=10)
    least_factor: float = Key(default=0.75, gt=0, le=1)
    most_factor: float = Key(default=1.15, ge=1, le=2)
    passes: tuple[str, ...] = ("side-dress",)
    result_days: Days = Key(default=2.0, alias="result")

    def factor(self, value_pct: float) -> float:
        """Return what the rate is multiplied by for a measured concentration [% of dry matter]."""
        if value_pct >= self.enough_pct:
            return self.least_factor
        if value_pct <= self.short_pct:
            return self.most_factor
        share = (value_pct - self.short_pct) / (self.enough_pct - self.short_pct)
        return self.most_factor + share * (self.least_factor - self.most_factor)


class PassSpec(Record):
    """One pass of a programme.

    Attributes
    ----------
    id : str
        Unique in its programme; the word used in plans and reports.
    operation, also : Operation
        What is done, and a second job done in the same trip (side-dress + interseed).
    products : tuple of ProductRate
        What is applied, with rates.
    carrier_l_per_ha : float or None
        Water that carries the products [L/ha]; it fills the tank too.
    after : tuple of After
        Lags to earlier passes of the same field.
    same_lines_as : str
        Pass whose guidance lines and width this one must share.
    on_foot : bool
        People only, no machine (scouting, tissue samples).
    foot_ha_per_h, foot_minutes : float
        Pace of work on foot, and the time each field takes anyway.
    loss_per_ha, loss_share : float
        What a hectare never done costs: money, or share of the crop's value. Unset: default table.
    """

    id: str
    name: str = ""
    operation: Operation
    also: Operation | None = None
    products: tuple[ProductRate, ...] = Key(default=(), alias="product")
    carrier_l_per_ha: RateLHa | None = Key(default=None, alias="carrier")
    after: tuple[After, ...] = ()
    window: WindowRule = WindowRule()
    same_lines_as: str = ""
    on_foot: bool = False
    foot_ha_per_h: float = Key(default=20.0, gt=0, le=500)
    foot_minutes: Minutes = 15.0
    licence: str = ""
    daylight_only: bool = False
    rain_free_hours: Hours = Key(default=0.0, alias="rain_free")
    loss_per_ha: MoneyPerHa | None = None
    loss_share: Share | None = None
    delay_curve: str = ""
    optional: bool = True

    @property
    def label(self) -> str:
        """Name shown to people."""
        return self.name or self.id

    @property
    def contents(self) -> tuple[str, ...]:
        """Products that are in the machine on the trip, by id, in order."""
        return tuple(sorted({item.product for item in self.products}))

    @property
    def operations(self) -> tuple[Operation, ...]:
        """Every job done on the trip."""
        return (self.operation,) if self.also is None else (self.operation, self.also)


class Programme(Record):
    """The passes of a crop in order."""

    id: str
    crop: str = ""
    passes: tuple[PassSpec, ...] = Key(alias="pass")

    def find(self, pass_id: str) -> PassSpec | None:
        """Return a pass by its id."""
        return next((spec for spec in self.passes if spec.id == pass_id), None)

    def model_post_init(self, context: Any) -> None:
        """Nothing beyond the fields; cross-checks belong to `scheduler.farm.crosscheck`."""
