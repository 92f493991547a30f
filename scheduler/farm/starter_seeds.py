"""Seeds that a list of fields names: each hybrid or variety becomes a product with a stock as large as its fields want.

Question answered: *which seeds does a starter farm need, besides the usual one of each crop?* Bags and rates are common
practice, no source; every number is shown in the farm file and is there to be changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scheduler.farm.starter_fleet import (
    BEAN_BAG,
    BEAN_SEEDS_AC,
    CORN_BAG,
    CORN_SEEDS_AC,
    HECTARE_AC,
    SPARE,
    up,
)
from shared.slug import slug

NAME_MOST = 60
BAG = {"corn": CORN_BAG, "soybean": BEAN_BAG}
SEEDS_AC = {"corn": CORN_SEEDS_AC, "soybean": BEAN_SEEDS_AC}
BAGS_STEP = 5


@dataclass(frozen=True)
class Sown:
    """Ground that is sown with a seed of its own: the crop, the seed's name as written, the area."""

    crop: str
    seed: str
    area_ha: float


@dataclass(frozen=True)
class SeedLot:
    """A seed as a product of the farm file."""

    id: str
    name: str
    bag_seeds: int
    bags: int


def seed_lots(grounds: Iterable[Sown], taken: Iterable[str]) -> Mapping[tuple[str, str], SeedLot]:
    """Return crop and seed as written -> its product; ids that are `taken` stay what they are."""
    areas: dict[tuple[str, str], float] = {}
    for one in grounds:
        key = one.crop, one.seed
        areas[key] = areas.get(key, 0.0) + one.area_ha
    known, out = set(taken), {}
    for (crop, seed), area_ha in areas.items():
        name = "".join(mark for mark in seed if mark.isprintable()).strip()[:NAME_MOST]
        base = slug(name) or "seed"
        made = next(
            one
            for one in (base, *(f"{base}-{k}" for k in range(2, len(areas) + len(known) + 3)))
            if one not in known
        )
        known.add(made)
        need = area_ha * HECTARE_AC * SPARE * SEEDS_AC[crop] / BAG[crop]
        out[crop, seed] = SeedLot(made, name, round(BAG[crop]), up(need, BAGS_STEP))
    return out
