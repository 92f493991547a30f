"""The published soil tables of this room, read once from `shared/tables` (see SOURCES.md there)."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

from shared.vocabulary import Texture

# FAO-56 Table 19 has no row for these classes; the nearest row by clay content stands in (assumption).
EVAPORATION_ROW_STANDING_IN = {
    Texture.SANDY_CLAY_LOAM: Texture.LOAM,
    Texture.CLAY_LOAM: Texture.SILTY_CLAY_LOAM,
    Texture.SANDY_CLAY: Texture.CLAY,
}


def rows(table: str) -> list[dict[str, str]]:
    """Return the rows of one of the CSV tables of `shared/tables`."""
    text = files("shared").joinpath("tables", f"{table}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@cache
def soil_limits(texture: Texture) -> tuple[float, float, float]:
    """Wilting point, field capacity, saturation [m3/m3] (Saxton & Rawls 2006, Table 3)."""
    row = next(row for row in rows("soil_texture") if row["texture"] == texture.value)
    return (
        float(row["wilting_pct"]) / 100,
        float(row["field_capacity_pct"]) / 100,
        float(row["saturation_pct"]) / 100,
    )


@cache
def readily_evaporable_mm(texture: Texture) -> float:
    """REW [mm]: middle of the range of FAO-56 Table 19."""
    wanted = EVAPORATION_ROW_STANDING_IN.get(texture, texture)
    row = next(row for row in rows("evaporation_layer") if row["texture"] == wanted.value)
    return (float(row["rew_low_mm"]) + float(row["rew_high_mm"])) / 2


@cache
def curve_number_table(cover: str, treatment: str, condition: str, group: str) -> float:
    """Curve number CN2 of TR-55 Table 2-2b for a hydrologic soil group A to D."""
    for row in rows("curve_numbers"):
        if (row["cover"], row["treatment"], row["condition"]) == (cover, treatment, condition):
            return float(row[group])
    raise KeyError(f"no curve number for {cover}, {treatment}, {condition}")
