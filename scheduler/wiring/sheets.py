"""The farm's lists as a workbook and back: unchanged rows stay as they are written, comments of farm.toml stand."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

import tomlkit
from pydantic_core import PydanticCustomError

from adapters.files.whole import write_whole
from adapters.sheets import SheetRows, cell_of, read_workbook, text_of, workbook_bytes
from adapters.storage.farm_files import BOOLEANS, RawFarm, read_farm_folder
from scheduler.farm.build import build_farm, located
from scheduler.farm.cell_texts import NESTED
from scheduler.windows.rule_check import rule_faults
from scheduler.wiring.farm_edit import replace_files
from scheduler.wiring.sheet_plans import ABOUT, NUMBERS, SHEETS, flat, keys_of, sheet_plans
from shared.errors import FarmFileError
from shared.vocabulary import LIST_KEYS

Row = dict[str, Any]


@dataclass(frozen=True)
class SheetFarm:
    """The farm as it would be, every value traceable to its sheet and cell."""

    values: dict[str, Any]
    file: str
    cells: Mapping[str, tuple[str, tuple[dict[str, str], ...]]]
    base: RawFarm

    def where(self, location: tuple[Any, ...]) -> tuple[str, str]:
        """Return file and cell of a location such as ``("fields", 3, "area")``."""
        name = str(location[0]) if location else ""
        if name not in self.cells or len(location) < 2 or not isinstance(location[1], int):
            return self.base.where(location)
        title, rows = self.cells[name]
        here = rows[location[1]] if location[1] < len(rows) else {"": "A1"}
        key = str(location[2]) if len(location) > 2 else ""
        at = f"{title}!{here.get(key, here[''])}"
        return self.file, f"{at}, {key}" if key else at


@dataclass(frozen=True)
class SheetChange:
    """One thing that reads otherwise: list, id, key, before, after (empty: not there)."""

    name: str
    id: str
    key: str
    before: str
    after: str


def write_sheet(folder: Path, path: Path) -> int:
    """Write the workbook of a farm folder; return how many rows it holds."""
    raw = read_farm_folder(folder)
    plans = sheet_plans(raw.values)
    content = workbook_bytes(plans, [line.format(name=raw.values.get("name", "")) for line in ABOUT])
    write_whole(path, content)
    return sum(len(plan.rows) for plan in plans)


def read_sheet(folder: Path, path: Path, now: datetime, dry: bool) -> tuple[list[SheetChange], Path | None]:
    """Take a workbook into a farm folder.

    Returns
    -------
    list of SheetChange, Path or None
        What reads otherwise, and where the old files are kept.

    Raises
    ------
    FarmFileError
        Faults, each named by sheet and cell; nothing was changed.
    """
    raw = read_farm_folder(folder)
    known = {title: keys_of(model) for title, (_, model) in SHEETS.items()}
    found = read_workbook(path, known, NUMBERS, needed=("Fields",))
    farm = _joined(raw, found, path.name)
    _judged(farm, now)
    changes = [
        one
        for title in found
        for one in _changes(
            SHEETS[title][0], raw.values.get(SHEETS[title][0], []), farm.values[SHEETS[title][0]]
        )
    ]
    if dry or not changes:
        return changes, None
    names = {one.name for one in changes}
    return changes, replace_files(folder, _texts(folder, raw, farm.values, names), now)


def _joined(raw: RawFarm, found: Mapping[str, SheetRows], file: str) -> SheetFarm:
    values, cells = dict(raw.values), {}
    for title, sheet in found.items():
        name = SHEETS[title][0]
        old = {str(row.get("id", "")): row for row in raw.values.get(name, [])}
        values[name] = [_typed(row, old.get(str(row.get("id", "")), {})) for row in sheet.rows]
        cells[name] = (title, sheet.cells)
    return SheetFarm(values, file, cells, raw)


def _typed(row: Row, old: Row) -> Row:
    """Return a row as farm files have it; what says the same as before stays as it was written."""
    out: Row = {key: value for key, value in old.items() if key not in row and canon(key, value) == ""}
    for key, value in row.items():
        if key in old and canon(key, old[key]) == canon(key, value):
            out[key] = old[key]
        elif key in LIST_KEYS:
            out[key] = [part.strip() for part in str(value).split(";") if part.strip()]
        elif key in BOOLEANS and str(value).lower() in ("yes", "true", "no", "false"):
            out[key] = str(value).lower() in ("yes", "true")
        elif key in NESTED:
            try:
                out[key] = NESTED[key][1](str(value))
            except PydanticCustomError:
                out[key] = str(value)
        else:
            out[key] = value
    return {key: out[key] for key in (*[k for k in old if k in out], *[k for k in out if k not in old])}


def canon(key: str, value: Any) -> str:
    """Return a value as a cell shows it, so that two ways of writing the same are the same."""
    cell = cell_of(flat(key, value), "")
    if key in BOOLEANS and str(cell).lower() in ("true", "false"):
        return "yes" if str(cell).lower() == "true" else "no"
    if isinstance(cell, str) and cell.startswith(("=", "+", "@")):
        return cell
    found = text_of(cell, "", key in NUMBERS)
    if key in NUMBERS and found is not None:
        try:
            return f"{float(found):.12g}"
        except ValueError:
            return str(found)
    return "" if found is None else str(found)


def _judged(farm: SheetFarm, now: datetime) -> None:
    built, _ = build_farm(farm, now.date())
    faults = [located(fault, farm) for fault in rule_faults(built)]
    if faults:
        raise FarmFileError(faults)


def _changes(name: str, before: list[Row], after: list[Row]) -> list[SheetChange]:
    old, new = ({str(row.get("id", "")): row for row in rows} for rows in (before, after))
    out = [SheetChange(name, key, "", "there", "") for key in old if key not in new]
    for key, row in new.items():
        if key not in old:
            out.append(SheetChange(name, key, "", "", "there"))
            continue
        for part in dict.fromkeys((*old[key], *row)):
            a, b = canon(part, old[key].get(part, "")), canon(part, row.get(part, ""))
            if a != b:
                out.append(SheetChange(name, key, part, a, b))
    same = [key for key in old if key in new] != [key for key in new if key in old]
    return out + ([SheetChange(name, "", "order of the rows", "", "")] if same else [])


def _texts(folder: Path, raw: RawFarm, values: Mapping[str, Any], names: set[str]) -> dict[str, str]:
    """Return the files that hold the lists that changed."""
    texts: dict[str, str] = {}
    document = None
    for name in sorted(names):
        file = raw.origin.get(name, ("farm.toml", ()))[0]
        if file.endswith(".csv"):
            texts[file] = _csv(folder / file, values[name])
        elif file.endswith(".geojson"):
            texts[file] = _geojson(folder / file, raw.values[name], values[name])
        else:
            document = document or tomlkit.parse((folder / file).read_text(encoding="utf-8-sig"))
            _into_toml(document, name, values[name])
            texts[file] = tomlkit.dumps(document)
    return texts


def _csv(path: Path, rows: list[Row]) -> str:
    heads = next(csv.reader(StringIO(path.read_text(encoding="utf-8-sig"), newline="")), [])
    heads = [name.strip() for name in heads] + [
        key for key in dict.fromkeys(k for row in rows for k in row) if key not in [h.strip() for h in heads]
    ]
    out = StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows([[cell_of(flat(key, row.get(key, "")), "") for key in heads] for row in rows])
    return out.getvalue()


def _geojson(path: Path, before: list[Row], rows: list[Row]) -> str:
    document = json.loads(path.read_text(encoding="utf-8-sig"))
    features = {
        str((one.get("properties") or {}).get("id", one.get("id"))): one for one in document["features"]
    }
    old, out = {str(row.get("id", "")): row for row in before}, []
    for row in rows:
        name = str(row.get("id", ""))
        point = {
            "type": "Point",
            "coordinates": [float(row.get("longitude", 0)), float(row.get("latitude", 0))],
        }
        feature = features.get(name) or {"type": "Feature", "id": name, "geometry": point, "properties": {}}
        mine = dict(feature.get("properties") or {})
        changed = {
            key: value
            for key, value in row.items()
            if canon(key, old.get(name, {}).get(key, "")) != canon(key, value)
        }
        gone = [key for key in mine if key not in row]
        feature["properties"] = {key: value for key, value in (mine | changed).items() if key not in gone}
        out.append(feature)
    document["features"] = out
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def _into_toml(document: Any, name: str, rows: list[Row]) -> None:
    """Put a list into the TOML document; tables of things that stay are changed in place, so that their comments stand."""
    old = {str(table.get("id", "")): table for table in document.get(name, [])}
    fresh = tomlkit.aot()
    for row in rows:
        table = old.get(str(row.get("id", "")))
        if table is None:
            table = tomlkit.table()
        for key in [key for key in table if key not in row]:
            del table[key]
        for key, value in row.items():
            if key not in table or canon(key, table[key]) != canon(key, value):
                table[key] = _toml_value(value)
        fresh.append(table)
    document[name] = fresh


def _toml_value(value: Any) -> Any:
    """Return nested rows as inline tables."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        array = tomlkit.array()
        for row in value:
            inline = tomlkit.inline_table()
            inline.update(row)
            array.append(inline)
        return array
    return value
