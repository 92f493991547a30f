"""Soils out of a table that somebody kept: one row a field, with a texture class or the particles of a laboratory."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from adapters.files.bounded import fault_of
from adapters.files.cells import as_dict, read_rows
from adapters.soil.found import FoundSoil
from shared.errors import FarmFileError, Fault
from shared.vocabulary import Texture

COLUMNS = (
    "field",
    "texture",
    "sand_pct",
    "clay_pct",
    "organic_matter_pct",
    "field_capacity_pct",
    "wilting_point_pct",
    "hydrologic_group",
    "slope_pct",
    "tiled",
)
PERCENT = (
    "sand_pct",
    "clay_pct",
    "organic_matter_pct",
    "field_capacity_pct",
    "wilting_point_pct",
    "slope_pct",
)
GROUPS = ("A", "B", "C", "D", "A/D", "B/D", "C/D")
YES_NO = {"yes": True, "no": False, "": None}


def read_soil_table(path: Path) -> dict[str, FoundSoil]:
    """Return soils by the field as written (id or name).

    Raises
    ------
    FarmFileError
        Every fault at once.
    """
    headings, rows, _ = read_rows(path)
    odd = [name for name in headings if name and name.lower() not in COLUMNS]
    if "field" not in [name.lower() for name in headings] or odd:
        raise fault_of(
            path.name,
            "lacks the column field" if not odd else "is not known",
            ", ".join(COLUMNS),
            "headings",
            ", ".join(odd)[:60],
        )
    out: dict[str, FoundSoil] = {}
    faults: list[Fault] = []
    for number, cells in rows:
        row = {name.lower(): value for name, value in as_dict(headings, cells).items()}
        soil = _soil(row, f"row {number}", path.name, faults)
        name = str(row.get("field", ""))
        if not name or name in out:
            faults.append(
                Fault(
                    path.name,
                    f"row {number}, field",
                    name,
                    "is missing" if not name else "stands there twice",
                    "each field once",
                )
            )
        out[name] = soil
    if faults:
        raise FarmFileError(faults[:30])
    return out


def _soil(row: dict[str, Any], label: str, file: str, faults: list[Fault]) -> FoundSoil:
    shares = {name: _percent(row, name, label, file, faults) for name in PERCENT}
    texture, group = (
        str(row.get("texture", "")).strip().lower(),
        str(row.get("hydrologic_group", "")).strip().upper(),
    )
    tiled = str(row.get("tiled", "")).strip().lower()
    for name, value, known in (
        ("texture", texture, [str(one) for one in Texture]),
        ("hydrologic_group", group, list(GROUPS)),
        ("tiled", tiled, ["yes", "no"]),
    ):
        if value and value not in known:
            faults.append(Fault(file, f"{label}, {name}", value, "is not known", ", ".join(known)))
    if (shares["sand_pct"] is None) != (shares["clay_pct"] is None):
        faults.append(Fault(file, label, "", "says only one of sand_pct and clay_pct", "both or none"))
    om = shares["organic_matter_pct"]
    return FoundSoil(
        texture=texture, sand_share=shares["sand_pct"], clay_share=shares["clay_pct"], organic_matter_pct=None if om is None else om * 100,
        field_capacity_share=shares["field_capacity_pct"], wilting_point_share=shares["wilting_point_pct"], group=group,
        slope_share=shares["slope_pct"], tiled=YES_NO.get(tiled), said="table",
    )  # fmt: skip


def _percent(row: dict[str, Any], name: str, label: str, file: str, faults: list[Fault]) -> float | None:
    if row.get(name) in (None, ""):
        return None
    try:
        value = float(str(row[name]).strip().rstrip("%").replace(",", "."))
        if not 0 <= value <= 100:
            raise ValueError
        return value / 100.0
    except ValueError:
        faults.append(Fault(file, f"{label}, {name}", str(row[name]), "is no percentage", "0 to 100"))
        return None
