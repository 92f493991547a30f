"""Which column of a stranger's table is what: usual headings of the trade, and plain values read as the farm's own words."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from shared.units import UnitFault, parse, show
from shared.vocabulary import Cover, Crop, Texture

HEADINGS: dict[str, tuple[str, ...]] = {
    "name": ("name", "fieldname", "field", "label", "title", "fname", "fldname", "description"),
    "id": ("id", "fieldid", "fieldno", "fieldnumber", "number", "code"),
    "crop": ("crop", "cropname", "croptype", "commodity", "plantedcrop"),
    "area": ("area", "acres", "ac", "acreage", "areaac", "areaacres", "hectares", "ha", "areaha", "size", "calcacres", "tillable"),
    "latitude": ("latitude", "lat", "y", "centroidlat"),
    "longitude": ("longitude", "long", "lon", "lng", "x", "centroidlon"),
    "texture": ("texture", "soil", "soiltexture", "soiltype"),
    "cover": ("cover", "covercrop"),
    "tiled": ("tiled", "tile", "drained"),
    "slope": ("slope",),
    "residue": ("residue",),
    "hydrologic_group": ("hydrologicgroup", "hydgrp"),
    "expected_yield": ("expectedyield", "yieldgoal"),
    "seed": ("seed", "hybrid", "variety", "hybridname", "varietyname", "cropvariety", "cultivar"),
    "row_spacing": ("rowspacing",),
    "guidance_line": ("guidanceline", "abline"),
    "hazards": ("hazards", "hazard"),
    "note": ("note", "notes", "comment", "remarks"),
}  # fmt: skip
"""The farm file's key -> usual headings, letters and digits only (common practice, no source)."""
CROPS = {
    Crop.CORN: ("corn", "maize", "fieldcorn", "graincorn", "mais", "maiz", "c"),
    Crop.SOYBEAN: ("soybean", "soybeans", "soy", "beans", "soya", "b", "sb"),
}
YES, NO = ("yes", "y", "true", "1", "tiled"), ("no", "n", "false", "0", "none", "")
HECTARES = ("ha", "hectares", "areaha")


def bare(text: Any) -> str:
    """Return a heading or word without case, blanks and marks."""
    return re.sub(r"[^a-z0-9]", "", str(text).lower())


def which(headings: Iterable[str], said: Mapping[str, str]) -> dict[str, str]:
    """Return key -> heading of the columns that mean something; what the user said goes before the usual headings."""
    rest, found = list(headings), dict(said)
    taken = set(found.values())
    for key, usual in HEADINGS.items():
        if key in found:
            continue
        fits = [name for word in usual for name in rest if name not in taken and bare(name) == word]
        if fits:
            found[key] = fits[0]
            taken.add(fits[0])
    return found


def guessed(
    rows: Sequence[Mapping[str, Any]], headings: Iterable[str], found: Mapping[str, str]
) -> dict[str, str]:
    """Return key -> heading of columns that no heading tells but whose values look like a crop, a cover, a soil or names."""
    tests: dict[str, Callable[[str], object]] = {
        "crop": lambda text: len(text) > 2 and crop_of(text),
        "texture": lambda text: len(text) > 4 and texture_of(text),
        "cover": cover_of,
        "name": lambda text: not re.fullmatch(r"[\d.,:/ -]*", text),
    }
    rest = [name for name in headings if name not in found.values()]
    out: dict[str, str] = {}
    for key, fits in tests.items():
        for name in rest if key not in found else []:
            texts = [str(row[name]).strip() for row in rows if row.get(name) not in (None, "")]
            named = key != "name" or len({text.casefold() for text in texts}) == len(rows)
            if name not in out.values() and texts and named and all(fits(text) for text in texts):
                out[key] = name
                break
    return out


def crop_of(text: str) -> Crop | None:
    """Return the crop of a word; None where it is no crop that is planned here."""
    return next((crop for crop, words in CROPS.items() if bare(text) in words), None)


def texture_of(text: str) -> Texture | None:
    """Return the texture class of a word, codes such as SICL included."""
    codes = {
        "s": "sand", "ls": "loamy sand", "sl": "sandy loam", "l": "loam", "sil": "silt loam", "si": "silt", "scl": "sandy clay loam",
        "cl": "clay loam", "sicl": "silty clay loam", "sic": "silty clay", "sc": "sandy clay", "c": "clay",
    }  # fmt: skip
    found = codes.get(bare(text)) or next(
        (one.value for one in Texture if bare(one.value) == bare(text)), None
    )
    return Texture(found) if found else None


def cover_of(text: str) -> Cover | None:
    """Return the cover of a word."""
    words = {
        "cerealrye": "rye",
        "ryegrass": "mix",
        "mixed": "mix",
        "no": "none",
        "fallow": "none",
        "": "none",
    }
    found = words.get(bare(text), bare(text))
    return Cover(found) if found in set(Cover) else None


def yes_of(text: str) -> str | None:
    """Return ``yes`` or ``no``; None for any other word."""
    return "yes" if bare(text) in YES else "no" if bare(text) in NO else None


def area_ha_of(value: Any, heading: str, us: bool) -> float:
    """Return an area [ha]; a bare number counts in the unit of its heading, else in acres or hectares as `us` says.

    Raises
    ------
    UnitFault
        It is no area.
    """
    text = str(value).strip()
    if re.fullmatch(r"[+-]?\d+,\d{1,2}", text):
        text = text.replace(",", ".")
    if re.fullmatch(r"[+-]?[\d.,]+(e[+-]?\d+)?", text, re.IGNORECASE):
        named = (
            "ha"
            if bare(heading) in HECTARES
            else "ac"
            if bare(heading) not in ("area", "size") or us
            else "ha"
        )
        text = f"{text} {named}"
    return parse(text, "area_ha")


def shown_ac(area_ha: float, us: bool = True) -> str:
    """Return an area for a person."""
    return show(area_ha, "area_ha", "us" if us else "metric", 1 if area_ha >= 1 else 3)


__all__ = [
    "HEADINGS", "UnitFault", "area_ha_of", "bare", "cover_of", "crop_of", "guessed", "shown_ac", "texture_of", "which", "yes_of",
]  # fmt: skip
