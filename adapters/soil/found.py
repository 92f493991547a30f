"""A soil as a source tells it; None where it says nothing."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FoundSoil:
    """The soil of a field, in shares and SI.

    Attributes
    ----------
    texture : str
        USDA class in words (``silty clay loam``); empty where only particles, or nothing, is known.
    sand_share, clay_share, organic_matter_pct : float or None
        Of the fine earth in the top 30 cm.
    field_capacity_share, wilting_point_share : float or None
        Water at 33 and 1500 kPa [m3/m3].
    group : str
        Hydrologic group, single (``C``) or dual (``C/D``: drained, undrained); empty where not known.
    slope_share : float or None
    drainage : str
        Drainage class in words.
    tiled : bool or None
    said : str
        One line for people: which soil, how much of the field.
    """

    texture: str = ""
    sand_share: float | None = None
    clay_share: float | None = None
    organic_matter_pct: float | None = None
    field_capacity_share: float | None = None
    wilting_point_share: float | None = None
    group: str = ""
    slope_share: float | None = None
    drainage: str = ""
    tiled: bool | None = None
    said: str = ""
