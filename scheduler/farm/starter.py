"""A starter farm: commented files that pass the check and make a plan at once, to be changed into one's own.

Input: the farm's name, the day on which its story begins and, if there are any, the farm's own fields; output: the text of every
file by its path in the farm folder. Nothing is written here.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property, lru_cache
from importlib.resources import files
from io import StringIO

from jinja2 import Environment, StrictUndefined, Template

from scheduler.farm.starter_fleet import Stocks, fleet_for, stocks_for
from scheduler.farm.starter_seeds import SeedLot, Sown, seed_lots
from scheduler.farm.starter_weather import DAYS_ON, starter_weather
from shared.units import show

STORY_BEGINS = date(2027, 5, 10)
NAME_MOST = 80
THINKING_LEAST_S, THINKING_MOST_S, THINKING_S_PER_FIELD = 10, 60, 0.3
"""On 200 fields out of `fitground init` plans of 60 s cost 8 % less than plans of 10 s (docs/engine-notes.md)."""
COLUMNS = (
    "id", "name", "area", "latitude", "longitude", "yard", "texture", "tiled", "hydrologic_group", "slope", "residue", "cover", "crop",
    "programme", "seed", "rates", "expected_yield", "guidance_line", "row_spacing", "done", "planted_on", "hazards", "note",
)  # fmt: skip
PROGRAMMES = {"corn": "corn", "soybean": "beans"}
PRODUCTS = ("nitrogen-32", "corn-seed", "bean-seed", "burndown", "post", "cover-seed")
"""Ids of the template's own products."""
SAMPLE_STOCKS = Stocks(6000, 110, 130, 90, 120, 50)
SAMPLE_HA = 109.3


@dataclass(frozen=True)
class OwnField:
    """A field of the farm: what is not known of it stands in `defaults` of `OwnFarm`.

    Attributes
    ----------
    values : mapping
        More of its row in ``fields.csv``, by key, as written there.
    """

    id: str
    name: str
    area_ha: float
    latitude_deg: float
    longitude_deg: float
    values: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class OwnFarm:
    """What is known of a farm before anybody described it.

    Attributes
    ----------
    defaults : mapping
        Row keys for fields that do not say them, ``crop`` among them.
    contact : str
        Address told to live weather services; invented weather where it is empty.
    """

    fields: tuple[OwnField, ...]
    yard_latitude_deg: float
    yard_longitude_deg: float
    time_zone: str = "America/Chicago"
    elevation_m: float = 250.0
    units: str = "us"
    defaults: Mapping[str, str] = field(default_factory=lambda: {"crop": "corn"})
    contact: str = ""

    def crop_of(self, one: OwnField) -> str:
        """Return the crop of a field."""
        return one.values.get("crop") or self.defaults.get("crop", "corn")

    def area_ha(self, crop: str) -> float:
        """Return the area in a crop [ha]."""
        return sum(one.area_ha for one in self.fields if self.crop_of(one) == crop)

    @cached_property
    def seeds(self) -> Mapping[tuple[str, str], SeedLot]:
        """Return the seeds that fields name, by crop and name as written."""
        named = [
            Sown(self.crop_of(one), one.values["seed"], one.area_ha)
            for one in self.fields
            if one.values.get("seed")
        ]
        return seed_lots(named, PRODUCTS)

    def usual_seed_ha(self, crop: str) -> float:
        """Return the area in a crop whose seed no field names [ha]."""
        return sum(
            one.area_ha for one in self.fields if self.crop_of(one) == crop and not one.values.get("seed")
        )


def starter_farm(name: str, today: date = STORY_BEGINS, own: OwnFarm | None = None) -> dict[str, str]:
    """Return the files of a starter farm.

    Parameters
    ----------
    name : str
        Name of the farm; control characters are left out.
    today : date
        Day for which the invented weather holds a forecast.
    own : OwnFarm, optional
        The farm's own fields; four invented ones where not given.

    Returns
    -------
    dict of str to str
        Text by path within the farm folder: ``farm.toml``, ``fields.csv`` and, for invented weather, the weather folder.
    """
    shown = "".join(mark for mark in name if mark.isprintable()).strip()[:NAME_MOST] or "Our farm"
    out = {
        "farm.toml": _template().render(_said(shown, today, own)) + "\n",
        "fields.csv": _text("starter_fields.csv") if own is None else _rows(own),
    }
    if own is not None and own.contact:
        return out
    return out | {f"weather/{file}": rows for file, rows in starter_weather(today).items()}


def thinking_s(fields: int) -> int:
    """Return how long a plan of so many fields should be thought about [s]: on larger farms a search goes on gaining for longer."""
    return max(THINKING_LEAST_S, min(THINKING_MOST_S, 5 * round(THINKING_S_PER_FIELD * fields / 5)))


def _said(shown: str, today: date, own: OwnFarm | None) -> dict[str, object]:
    corn, beans = (own.area_ha("corn"), own.area_ha("soybean")) if own else (0.0, 0.0)
    near_us = own is not None and 24 <= own.yard_latitude_deg <= 50 and -125 <= own.yard_longitude_deg <= -66
    return {
        "own": own is not None, "shown": shown.replace("\n", " "), "name_text": json.dumps(shown, ensure_ascii=False),
        "first": today, "last": today + timedelta(days=DAYS_ON - 1), "delivery": today + timedelta(days=9),
        "licence_until": date(today.year + 2, 3, 31), "units": own.units if own else "us",
        "time_zone": own.time_zone if own else "America/Chicago", "elevation_m": f"{own.elevation_m:g}" if own else "300",
        "latitude": own.yard_latitude_deg if own else None, "longitude": own.yard_longitude_deg if own else None,
        "yard_latitude": own.yard_latitude_deg if own else None, "yard_longitude": own.yard_longitude_deg if own else None,
        "area_text": show(corn + beans, "area_ha", own.units, 0) if own else "",
        "seconds": thinking_s(len(own.fields) if own else 0),
        "fleet": fleet_for(corn + beans if own else SAMPLE_HA), "stocks": _stocks(own, corn, beans) if own else SAMPLE_STOCKS,
        "seeds": list(own.seeds.values()) if own else [],
        "terminate": "Burn down" if own else "Terminate rye",
        "contact": json.dumps(own.contact, ensure_ascii=False) if own and own.contact else "",
        "forecast": '"us-national", "norway"' if near_us else '"norway"',
        "observed": '"us-grid-daily", "power"' if near_us else '"power"',
    }  # fmt: skip


def _stocks(own: OwnFarm, corn_ha: float, bean_ha: float) -> Stocks:
    """Return the stocks; of the usual seed of a crop as much as the fields want that name no other."""
    usual = stocks_for(own.usual_seed_ha("corn"), own.usual_seed_ha("soybean"))
    return replace(stocks_for(corn_ha, bean_ha), corn_bags=usual.corn_bags, bean_bags=usual.bean_bags)


def _rows(own: OwnFarm) -> str:
    out = StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for one in own.fields:
        crop = own.crop_of(one)
        known = {key: value for key, value in one.values.items() if value}
        if "seed" in known:
            known["seed"] = own.seeds[crop, known["seed"]].id
        writer.writerow(
            {
                **{key: value for key, value in own.defaults.items() if key in COLUMNS}, **known, "crop": crop,
                "programme": PROGRAMMES[crop], "id": one.id, "name": one.name,
                "area": show(one.area_ha, "area_ha", own.units, 2), "latitude": f"{one.latitude_deg:.6f}",
                "longitude": f"{one.longitude_deg:.6f}",
            }
        )  # fmt: skip
    return out.getvalue()


@lru_cache(maxsize=1)
def _template() -> Template:
    found = Environment(undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, autoescape=False)
    return found.from_string(_text("starter.toml"))


def _text(file: str) -> str:
    return (files("scheduler.farm") / "templates" / file).read_text(encoding="utf-8")
