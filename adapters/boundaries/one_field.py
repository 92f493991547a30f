"""One row of a file into a field: its name, crop, columns, outline or place; faults and notes go into the sieve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from adapters.boundaries.columns import UnitFault, area_ha_of, cover_of, crop_of, shown_ac, texture_of, yes_of
from adapters.boundaries.found import FoundField, RawFeature, Words
from adapters.boundaries.shapes import FAR_NORTH_DEG, Ground, NoSurface, apart_km, ground_of, swapped
from shared.errors import Fault

LEAST_HA, MOST_HA = 0.04, 4_000.0
"""A tenth of an acre; about 15 square miles in one piece. Common practice, no source."""
AREA_ALLOWED = "0.1 to 10,000 acres (0.04 to 4,000 ha)"
FAR_KM = 300.0
SAID_TOLERANCE = 0.05
NAME_MOST = 60
FORMULA_MARKS = "=+-@ "
"""A name that begins so would be reckoned by every spreadsheet that opens the farm's tables."""


@dataclass
class Sieve:
    """Faults and notes while a file is checked."""

    file: str
    words: Words
    faults: list[Fault] = field(default_factory=list)
    mends: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    unnamed: list[tuple[str, str]] = field(default_factory=list)

    def fault(self, key: str, value: Any, problem: str, allowed: str, mend: str = "") -> None:
        self.faults.append(Fault(self.file, key, str(value)[:60], problem, allowed))
        self.mends.append(mend)


def one_field(
    row: RawFeature, number: int, columns: Mapping[str, str], sieve: Sieve
) -> tuple[FoundField, Ground | None] | None:
    """Return a field and its measured outline; None when it has a fault (kept in the sieve) or is left out."""
    said = {
        key: str(row.values[name]).strip()
        for key, name in columns.items()
        if row.values.get(name) not in (None, "")
    }
    name = said.pop("name", "") or said.get("id", "")
    if not name:
        name = f"Field {number}"
        sieve.unnamed.append((row.label, name))
    # Spreadsheets are full of spaces that are none (U+00A0); a name must be found again by who types it.
    shown = " ".join("".join(mark if mark.isprintable() else " " for mark in name).split())
    name = shown.lstrip(FORMULA_MARKS)[:NAME_MOST].strip() or f"Field {number}"
    crop = said.pop("crop", "")
    if crop and crop_of(crop) is None:
        sieve.notes.append(f"{name} is in {crop!r}, which is not planned here, and was left out.")
        return None
    values = _values(said, row, columns, sieve)
    if crop:
        values["crop"] = str(crop_of(crop))
    return _placed(row, name, said, values, columns, sieve)


def _values(
    said: dict[str, str], row: RawFeature, columns: Mapping[str, str], sieve: Sieve
) -> dict[str, str]:
    """Return the other columns in the farm's own words."""
    out: dict[str, str] = {}
    reads = {"texture": texture_of, "cover": cover_of, "tiled": yes_of}
    allowed = {
        "texture": "a USDA texture class such as silt loam",
        "cover": "none, rye, clover, mix",
        "tiled": "yes or no",
    }
    for key, text in said.items():
        if key in ("id", "area", "latitude", "longitude"):
            continue
        if key in reads:
            read = reads[key](text)
            if read is None:
                sieve.fault(f"{row.label}, {columns[key]}", text, "is not known", allowed[key])
                continue
            out[key] = str(read)
        else:
            out[key] = text
    return out


def _placed(
    row: RawFeature, name: str, said: dict[str, str], values: dict[str, str], columns: Mapping[str, str], sieve: Sieve
) -> tuple[FoundField, Ground | None] | None:  # fmt: skip
    geometry, words, where = row.geometry, sieve.words, f"{row.label} ({name})"
    area = _said_area(said, where, columns, sieve)
    if geometry is not None and geometry.get("type") != "Point":
        ground = _ground(geometry, where, sieve)
        if ground is None or not _sized(ground.area_ha, where, sieve):
            return None
        if area is not None and abs(area / ground.area_ha - 1) > SAID_TOLERANCE:
            sieve.notes.append(
                f"{name}: the file says {shown_ac(area)}, the outline holds {shown_ac(ground.area_ha)}; the outline counts."
            )
        longitude, latitude = ground.inside
        one = FoundField(
            said.get("id", ""), name, ground.area_ha, latitude, longitude, ground.geometry, values
        )
        return one, ground
    place = _place(geometry, said, where, columns, sieve)
    if area is None and "area" not in said:
        sieve.fault(where, "", "has no area", "a column area, acres or hectares, or an outline")
    if place is None or area is None or not _sized(area, where, sieve):
        return None
    if words.swap and geometry is not None:
        place = (place[1], place[0])
    return FoundField(said.get("id", ""), name, area, place[1], place[0], None, values), None


def _said_area(said: dict[str, str], where: str, columns: Mapping[str, str], sieve: Sieve) -> float | None:
    if "area" not in said:
        return None
    try:
        return area_ha_of(said["area"], columns["area"], us=True)
    except UnitFault as error:
        sieve.fault(f"{where}, {columns['area']}", said["area"], error.problem, error.allowed)
        return None


def _sized(area_ha: float, where: str, sieve: Sieve) -> bool:
    if LEAST_HA <= area_ha <= MOST_HA:
        return True
    small = area_ha < LEAST_HA
    sieve.fault(
        where, shown_ac(area_ha), f"is too {'small' if small else 'large'} to be a field", AREA_ALLOWED
    )
    return False


def _ground(geometry: Any, where: str, sieve: Sieve) -> Ground | None:
    words = sieve.words
    try:
        ground = ground_of(
            swapped(geometry) if words.swap and "coordinates" in geometry else geometry, words.repair
        )
    except NoSurface as error:
        allowed = {
            "repair": "an outline that does not cross itself; --repair mends it",
            "swap": "longitude first, then latitude; --swap-axes turns them",
        }.get(error.mend, "a Polygon or MultiPolygon in degrees")
        sieve.fault(where, "", str(error), allowed, error.mend)
        return None
    except (TypeError, IndexError):
        sieve.fault(where, "", "has a damaged outline", "a Polygon or MultiPolygon in degrees")
        return None
    if words.near is not None and not _is_near(ground, where, sieve):
        return None
    if ground.mended:
        sieve.notes.append(
            f"{where} crossed itself; mended it has {ground.pieces} piece{'s' * (ground.pieces > 1)} and {shown_ac(ground.area_ha)}."
        )
    if ground.holes:
        sieve.notes.append(
            f"{where} has {ground.holes} hole{'s' * (ground.holes > 1)}, taken out of its area."
        )
    return ground


def _is_near(ground: Ground, where: str, sieve: Sieve) -> bool:
    assert sieve.words.near is not None
    home, here = (sieve.words.near[1], sieve.words.near[0]), ground.inside
    away = apart_km(here, home)
    if away <= FAR_KM:
        return True
    if abs(here[0]) <= 90 and apart_km((here[1], here[0]), home) <= FAR_KM:
        sieve.fault(where, "", f"lies {away:,.0f} km from the farm, but near it with latitude and longitude exchanged", "longitude first, then latitude; --swap-axes turns them", "swap")  # fmt: skip
    else:
        sieve.fault(where, "", f"lies {away:,.0f} km from the farm", f"fields within {FAR_KM:.0f} km of it")
    return False


def _place(
    geometry: Any, said: dict[str, str], where: str, columns: Mapping[str, str], sieve: Sieve
) -> tuple[float, float] | None:
    """Return longitude and latitude of a field without outline; the farm's own place where nothing is said."""
    if geometry is not None:
        pair: tuple[Any, Any] = tuple(geometry.get("coordinates") or (None, None))[:2]  # type: ignore[assignment]
    elif "latitude" in said or "longitude" in said:
        pair = (said.get("longitude"), said.get("latitude"))
    elif sieve.words.near is not None:
        sieve.notes.append(
            "The list says no places: every field stands at the farm's own, and roads count nothing until fields.csv says where they are."
        )
        return sieve.words.near[1], sieve.words.near[0]
    else:
        sieve.fault(
            where,
            "",
            "has no place",
            "columns latitude and longitude, or the farm's own by --latitude and --longitude",
        )
        return None
    try:
        longitude, latitude = (float(str(value).replace(",", ".")) for value in pair)
        if not (-180 <= longitude <= 180 and -FAR_NORTH_DEG <= latitude <= FAR_NORTH_DEG):
            raise ValueError
    except ValueError:
        sieve.fault(
            where,
            f"{pair[1]}, {pair[0]}",
            "is no place on the globe",
            "latitude -84 to 84 and longitude -180 to 180 in degrees",
        )
        return None
    return longitude, latitude
