"""What the workbook of a farm holds: its sheets, their columns, what each heading's note says and what a drop-down offers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from adapters.sheets import SheetPlan
from scheduler.farm.cell_texts import NESTED
from scheduler.farm.land import Field
from scheduler.farm.machine import Machine, MachineKind
from scheduler.farm.operator import Operator
from scheduler.farm.product import Form, Product
from shared.vocabulary import Cover, Crop, Guidance, LoadClass, Operation, Texture

SHEETS: dict[str, tuple[str, type[BaseModel]]] = {
    "Fields": ("fields", Field), "Machines": ("machine", Machine), "Operators": ("operator", Operator), "Products": ("product", Product),
}  # fmt: skip
"""Title -> list of the farm as files name it, and its record."""
NUMBERS = frozenset(
    {"latitude", "longitude", "rows", "capacity_kg", "capacity_seeds", "overtime_factor", "time_factor"}
)
YES_NO = ("yes", "no")
FIXED: dict[str, Sequence[str]] = {
    "texture": [str(x) for x in Texture], "cover": [str(x) for x in Cover], "crop": [str(x) for x in Crop], "hydrologic_group": "ABCD",
    "tiled": YES_NO, "kind": [str(x) for x in MachineKind], "load_class": [str(x) for x in LoadClass], "guidance": [str(x) for x in Guidance],
    "tracks": YES_NO, "driver_for_tender": YES_NO, "lights": YES_NO, "language": ("en", "es"), "form": [str(x) for x in Form],
    "restricted_use": YES_NO,
}  # fmt: skip
LIST_NOTE = "Several, separated by ; "
NOTES = {
    "id": "Short name for reports: letters, digits, hyphens. Whoever changes it makes a new thing and takes the old one out.",
    "area": "An area, such as 62 ac or 25 ha.", "latitude": "Degrees, north above 0.", "longitude": "Degrees, east above 0.",
    "field_capacity": "Water at field capacity, such as 32 %. Empty: that of the texture.", "wilting_point": "Such as 17 %. Empty: that of the texture.",
    "slope": "Such as 2 %.", "residue": "Ground covered by residue, such as 60 %.", "programme": "One of the programmes of farm.toml.",
    "seed": "Id of the product sown here (hybrid, variety). Empty: the programme's.",
    "rates": LIST_NOTE + "this field's own: PASS RATE or PASS PRODUCT RATE, such as band 28 gal/ac; plant 32000 seeds/ac.",
    "expected_yield": "Such as 210 bu/ac or 13 t/ha.", "row_spacing": "Such as 30 in or 0.76 m.", "planted_on": "A date, if it was planted before the log begins.",
    "done": LIST_NOTE + "passes that were done before the log begins.", "hazards": LIST_NOTE + "power line, creek, soft spot ...",
    "width": "Working width, such as 30 ft.", "speed": "Working speed, such as 5.5 mph.", "road_speed": "Such as 20 mph.", "road_width": "Width on the road, folded.",
    "field_efficiency": "Share of the theoretical rate, such as 70 %.", "time_factor": "Time over what the numbers say, such as 1.1; reports move it further.", "tank": "Such as 1000 gal.", "refill": "Minutes for one refill, such as 20 min.",
    "hitch": "Minutes to hitch it, such as 20 min.", "clean_out": "Minutes to empty and clean it before another seed or spray, such as 30 min.",
    "field_setup": "Minutes in each field, such as 10 min.", "clearance": "Crop that it passes over, such as 26 in.",
    "operations": LIST_NOTE + ", ".join(str(x) for x in Operation), "pulled_by": LIST_NOTE + "ids of tractors.", "tender": LIST_NOTE + "ids of tenders of which one must attend.",
    "running_cost": "Such as 45 $/h.", "price_per_area": "What its owner takes, such as 9 $/ac.", "only_fields": LIST_NOTE + "ids of fields. Empty: all.",
    "driven_by": LIST_NOTE + "ids of people. Empty: whoever has the skill.", "skills": LIST_NOTE + "operations or machine ids; tender for driving support.",
    "licences": "applicator until 2029-03-31 no. A-17; another", "shift": "mon-fri 06:00-21:00; sat 07:00-13:00", "normal_hours": "Paid at the wage, such as 10 h.",
    "most_hours": "In a day, such as 14 h.", "most_hours_week": "Such as 70 h.", "days_off": LIST_NOTE + "dates such as 2027-05-15.", "wage": "Such as 28 $/h.",
    "density": "Of liquids, such as 11.06 lb/gal.", "nitrogen": "Mass of N in the product, such as 32 %.", "package": "What one bag holds, such as 80000 seeds or 50 lb.",
    "stock": "There when the log begins, such as 1200 gal or 640 bags.", "delivery": "n-2: 2027-05-14 16000 gal; n-3: 2027-05-20 16000 gal",
    "licence": "Licence that the operator must hold; empty for none.", "reentry": "Before people walk in, such as 12 h.", "rain_free": "Dry hours after, such as 4 h.",
    "wind_most": "Such as 10 mph.", "air_least": "Such as 45 degF.", "air_most": "Such as 88 degF.",
}  # fmt: skip
ABOUT = (
    "The lists of the farm {name}. Change, add and take out rows, save, then: fitground sheet-in FARM THIS_FILE",
    "It names every fault with sheet and cell, and changes nothing as long as there is one. The old files are kept.",
    "A heading such as area [ac] gives plain numbers below it their unit; a cell may have a unit of its own (25 ha).",
    "Several things in one cell are separated by ; (semicolon). Notes on the headings say what is allowed.",
    "Yards, programmes, prices and settings stay in farm.toml. fitground advises; people decide.",
)


def keys_of(model: type[BaseModel]) -> tuple[str, ...]:
    """Return the keys of a record as files name them, in order."""
    return tuple(info.alias or name for name, info in model.model_fields.items())


def sheet_plans(values: Mapping[str, Any]) -> list[SheetPlan]:
    """Return the sheets of a farm as written; columns that nobody uses stand behind the others."""
    plans = []
    for title, (name, model) in SHEETS.items():
        rows = [{key: flat(key, value) for key, value in row.items()} for row in values.get(name, [])]
        used = {key for row in rows for key in row}
        keys = keys_of(model)
        ordered = tuple(key for key in keys if key in used or key in ("id", "name")) + tuple(
            key for key in keys if key not in used and key not in ("id", "name")
        )
        plans.append(
            SheetPlan(title, ordered, rows, {key: NOTES.get(key, "") for key in keys}, _choices(values, keys))
        )
    return plans


def flat(key: str, value: Any) -> Any:
    """Return a value as a cell can hold it: nested tables as text."""
    if key in NESTED and isinstance(value, list):
        return NESTED[key][0](value)
    return value


def _choices(values: Mapping[str, Any], keys: Sequence[str]) -> dict[str, Sequence[str]]:
    own = {"yard": _ids(values, "yard"), "programme": _ids(values, "programme"), "licence": _licences(values)}
    return {key: words for key in keys if (words := FIXED.get(key) or own.get(key))}


def _ids(values: Mapping[str, Any], name: str) -> list[str]:
    return [str(row["id"]) for row in values.get(name, []) if isinstance(row, dict) and "id" in row]


def _licences(values: Mapping[str, Any]) -> list[str]:
    held = (
        one for row in values.get("operator", []) for one in row.get("licences", []) if isinstance(one, dict)
    )
    return sorted({str(one["name"]) for one in held if "name" in one})
