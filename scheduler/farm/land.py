"""Fields and yards: the ground, where it is, what stands on it."""

from __future__ import annotations

from typing import Any

from pydantic import Field as Key
from pydantic import ValidationInfo, field_validator

from scheduler.farm.quantities import AreaHa, IsoDate, LengthM, Record, Share, fault, is_written
from shared.units import UnitFault, parse_crop_amount
from shared.vocabulary import Cover, Crop, Texture


class Yard(Record):
    """Where machines, product and people start the day."""

    id: str
    name: str = ""
    latitude_deg: float = Key(alias="latitude", ge=-90, le=90)
    longitude_deg: float = Key(alias="longitude", ge=-180, le=180)


class Field(Record):
    """A piece of ground worked as one.

    Attributes
    ----------
    area_ha : float
        Worked area [ha].
    field_capacity_share, wilting_point_share : float or None
        Measured water content at field capacity and wilting point [m3/m3]; None takes the texture's values.
    residue_share : float
        Ground covered by residue [-].
    seed : str
        Product sown here in place of the programme's seed (hybrid, variety); empty for the programme's.
    rates : tuple of str
        Rates of this field's own, ``PASS RATE`` or ``PASS PRODUCT RATE`` (see `scheduler.farm.field_rates`).
    planted_on : date or None
        When this year's crop was planted, if it was before the log begins.
    done : tuple of str
        Pass ids that were finished before the log begins.
    """

    id: str
    name: str = ""
    area_ha: AreaHa = Key(alias="area")
    latitude_deg: float = Key(alias="latitude", ge=-90, le=90)
    longitude_deg: float = Key(alias="longitude", ge=-180, le=180)
    yard: str | None = None
    texture: Texture = Texture.SILT_LOAM
    field_capacity_share: Share | None = Key(default=None, alias="field_capacity")
    wilting_point_share: Share | None = Key(default=None, alias="wilting_point")
    tiled: bool = False
    hydrologic_group: str = Key(default="B", pattern="^[ABCD]$")
    slope_share: Share = Key(default=0.01, alias="slope")
    residue_share: Share = Key(default=0.6, alias="residue")
    cover: Cover = Cover.NONE
    crop: Crop
    programme: str
    seed: str = ""
    rates: tuple[str, ...] = ()
    maturity: str = ""
    expected_yield_t_per_ha: float | None = Key(default=None, alias="expected_yield")
    guidance_line: str = ""
    row_spacing_m: LengthM | None = Key(default=None, alias="row_spacing")
    planted_on: IsoDate | None = None
    done: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    note: str = ""

    @field_validator("expected_yield_t_per_ha", mode="before")
    @classmethod
    def _read_yield(cls, value: Any, info: ValidationInfo) -> Any:
        if value is None or (isinstance(value, float) and not is_written(info)):
            return value
        try:
            return parse_crop_amount(value, str(info.data.get("crop", "")), "ha")
        except UnitFault as error:
            raise fault(error.problem, error.allowed) from error

    @property
    def label(self) -> str:
        """Name shown to people."""
        return self.name or self.id
