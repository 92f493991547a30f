"""The soil keys of a farm's fields, from the US survey, a table, or one texture class for all; shown before anything is written."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

from adapters.http.polite import PoliteClient
from adapters.soil import FoundSoil, UsSurvey, read_soil_table
from adapters.weather import CACHE
from scheduler.events.report import find
from scheduler.farm.land import Field
from scheduler.farm.suggest import nearest
from scheduler.wiring.boundaries import geometries
from scheduler.wiring.farm_edit import replace_files
from scheduler.wiring.workspace import Workspace
from scheduler.workability.texture import limits_from_particles, texture_of_particles
from shared.errors import FitgroundError, ReportRefused, SoilUnavailable
from shared.vocabulary import Texture

KEYS = ("texture", "hydrologic_group", "slope", "field_capacity", "wilting_point", "tiled")
ORGANIC_MATTER_PCT = 2.5
"""Taken where a source says particles but no organic matter: that of the table of Saxton & Rawls (2006)."""
Tell = Callable[[int, int, str], None]


@dataclass(frozen=True)
class SoilChange:
    """What a source says of a field: its keys before and after, or why not."""

    field: Field
    before: Mapping[str, str]
    after: Mapping[str, str]
    said: str
    problem: str = ""

    @property
    def changed(self) -> dict[str, tuple[str, str]]:
        """Keys that would read otherwise."""
        return {
            key: (self.before.get(key, ""), value)
            for key, value in self.after.items()
            if self.before.get(key, "") != value
        }


def survey_changes(
    workspace: Workspace, tiled: bool | None, contact: str, tell: Tell, url: str = ""
) -> list[SoilChange]:
    """Ask the US survey about every field; a field that it does not know is named, not guessed.

    Parameters
    ----------
    tiled : bool or None
        For soils of a dual group: whether the fields are tiled, where not each field's own word counts.
    """
    said = contact or str(workspace.farm.weather.options.get("contact", ""))
    if not said:
        raise FitgroundError(
            "the survey is told who asks: give --contact, or contact under [weather.options] in farm.toml."
        )
    client = PoliteClient(workspace.folder / CACHE, said)
    survey, shapes, out = UsSurvey(client, url) if url else UsSurvey(client), geometries(workspace.folder), []
    rows = _rows(workspace.folder)
    for number, field in enumerate(workspace.farm.fields, 1):
        tell(number, len(workspace.farm.fields), field.label)
        before = _before(rows.get(field.id, {}))
        try:
            soil = survey.soil_of(shapes.get(field.id), field.latitude_deg, field.longitude_deg)
            out.append(
                SoilChange(
                    field,
                    before,
                    keys_of(soil, field.tiled if tiled is None else tiled, tiled is not None),
                    soil.said,
                )
            )
        except SoilUnavailable as error:
            out.append(SoilChange(field, before, {}, "", str(error)))
    return out


def table_changes(workspace: Workspace, path: Path) -> list[SoilChange]:
    """Read a table of soils; every row must be of a field of this farm."""
    soils, farm = read_soil_table(path), workspace.farm
    names = {one.id: one.label for one in farm.fields}
    rows, out = _rows(workspace.folder), []
    for name, soil in soils.items():
        try:
            field = farm.field_by_id[find("field", name, names)]
        except ReportRefused as error:
            raise FitgroundError(f"{path.name}: {error}") from error
        tiled = field.tiled if soil.tiled is None else soil.tiled
        out.append(
            SoilChange(
                field,
                _before(rows.get(field.id, {})),
                keys_of(soil, tiled, soil.tiled is not None),
                soil.said,
            )
        )
    return out


def texture_changes(workspace: Workspace, texture: str) -> list[SoilChange]:
    """Give every field one texture class; water limits are those of the class then."""
    names = [str(one) for one in Texture]
    if texture not in names:
        raise FitgroundError(
            f"the texture {texture!r} is not known; {nearest(texture, names)}allowed: {', '.join(names)}."
        )
    rows = _rows(workspace.folder)
    after = {"texture": texture, "field_capacity": "", "wilting_point": ""}
    return [
        SoilChange(one, _before(rows.get(one.id, {})), after, "the class's own limits")
        for one in workspace.farm.fields
    ]


def keys_of(soil: FoundSoil, tiled: bool, say_tiled: bool) -> dict[str, str]:
    """Return the soil keys of a field as they stand in the farm's table; only what is known."""
    out: dict[str, str] = {}
    texture, limits = soil.texture, None
    if soil.sand_share is not None and soil.clay_share is not None:
        texture = (
            texture
            if texture in set(Texture)
            else str(texture_of_particles(soil.sand_share, soil.clay_share))
        )
        try:
            limits = limits_from_particles(
                soil.sand_share, soil.clay_share, soil.organic_matter_pct or ORGANIC_MATTER_PCT
            )
        except ValueError:
            limits = None
    if texture in set(Texture):
        out["texture"] = texture
    capacity = soil.field_capacity_share or (limits.field_capacity if limits else None)
    wilting = soil.wilting_point_share or (limits.wilting_point if limits else None)
    if capacity is not None and wilting is not None and wilting < capacity:
        out |= {"field_capacity": f"{100 * capacity:.1f} %", "wilting_point": f"{100 * wilting:.1f} %"}
    if soil.group:
        drained, _, wet = soil.group.partition("/")
        out["hydrologic_group"] = drained if tiled or not wet else wet
    if soil.slope_share is not None:
        out["slope"] = f"{100 * soil.slope_share:g} %"
    if say_tiled:
        out["tiled"] = "yes" if tiled else "no"
    return out


def write_soils(
    workspace: Workspace, changes: list[SoilChange], only_empty: bool, now: datetime
) -> Path | None:
    """Write the changes into the fields file; return where the old one is kept.

    Parameters
    ----------
    only_empty : bool
        Keep every value that stands there already.
    """
    wanted = {
        one.field.id: {key: new for key, (old, new) in one.changed.items() if not (only_empty and old)} for one in changes
    }  # fmt: skip
    folder = workspace.folder
    table = folder / "fields.csv"
    text = (
        _with_rows(table, wanted) if table.exists() else _with_properties(folder / "fields.geojson", wanted)
    )
    return replace_files(folder, {table.name if table.exists() else "fields.geojson": text}, now)


def _before(row: Mapping[str, Any]) -> dict[str, str]:
    return {key: str(row[key]).strip() for key in KEYS if row.get(key) not in (None, "")}


def _rows(folder: Path) -> dict[str, Mapping[str, Any]]:
    """Return the fields as their file has them, by id."""
    table = folder / "fields.csv"
    if table.exists():
        return {
            str(row.get("id", "")).strip(): row
            for row in csv.DictReader(StringIO(table.read_text(encoding="utf-8-sig"), newline=""))
        }
    features = json.loads((folder / "fields.geojson").read_text(encoding="utf-8-sig"))["features"]
    return {
        str((one.get("properties") or {}).get("id", one.get("id"))): one.get("properties") or {}
        for one in features
    }


def _with_rows(table: Path, wanted: Mapping[str, Mapping[str, str]]) -> str:
    reader = csv.DictReader(StringIO(table.read_text(encoding="utf-8-sig"), newline=""))
    heads = [name for name in reader.fieldnames or () if name]
    rows = list(reader)
    heads += [key for key in KEYS if key not in heads and any(values.get(key) for values in wanted.values())]
    out = StringIO(newline="")
    writer = csv.DictWriter(out, heads, lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    for row in rows:
        writer.writerow({**row, **wanted.get(str(row.get("id", "")).strip(), {})})
    return out.getvalue()


def _with_properties(path: Path, wanted: Mapping[str, Mapping[str, str]]) -> str:
    document = json.loads(path.read_text(encoding="utf-8-sig"))
    for feature in document["features"]:
        properties = feature["properties"] = feature.get("properties") or {}
        properties.update(wanted.get(str(properties.get("id", feature.get("id"))), {}))
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


__all__ = ["SoilChange", "keys_of", "survey_changes", "table_changes", "texture_changes", "write_soils"]
