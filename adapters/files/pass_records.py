"""Work done, out of a table that somebody kept: one row for what was done of a pass in a field on a day."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any

from adapters.files.bounded import fault_of
from adapters.files.cells import as_dict, read_rows
from shared.errors import FarmFileError, Fault

HEADINGS = {
    "date": ("date", "day"), "field": ("field", "fieldname"), "pass": ("pass", "operation", "job"),
    "area": ("area", "acres", "ac", "hectares", "ha", "areaac", "areaacres", "areaha", "areahectares"), "start": ("start", "from"), "end": ("end", "to", "stop"),
    "operator": ("operator", "driver", "by"), "rig": ("rig", "machine"),
}  # fmt: skip
"""What a column is -> usual headings, small letters only."""
NEEDED = ("date", "field", "pass", "area")
MOST_FAULTS = 30
UNIT = {"acres": "ac", "ac": "ac", "hectares": "ha", "ha": "ha"}
HALF_DAY = re.compile(r"(0?[1-9]|1[0-2])(?::([0-5]\d))?\s*([ap])\.?m\.?", re.IGNORECASE)


@dataclass(frozen=True)
class PassRecord:
    """A row: words as written, the day read.

    Attributes
    ----------
    area : str
        With its unit.
    key : str
        The same for the same row in every file, so that it is counted once.
    """

    label: str
    day: date
    field: str
    pass_id: str
    area: str
    start: time | None
    end: time | None
    operator: str
    rig: str
    key: str


def read_pass_records(path: Path) -> tuple[list[PassRecord], list[str]]:
    """Return the rows of a table (CSV or workbook) and notes; a row that stands there twice counts once.

    Raises
    ------
    FarmFileError
        A column is missing, or dates or times cannot be read (every one is named); nothing is returned then.
    """
    headings, rows, notes = read_rows(path)
    where = {key: name for key, usual in HEADINGS.items() for name in headings if _bare(name) in usual}
    missing = [key for key in NEEDED if key not in where]
    if missing:
        raise fault_of(path.name, f"lacks the column {missing[0]}", ", ".join(NEEDED) + " and, if known, start, end, operator, rig", "headings")  # fmt: skip
    out: list[PassRecord] = []
    seen: dict[str, str] = {}
    faults: list[Fault] = []
    for number, cells in rows:
        row = as_dict(headings, cells)
        said = {key: row.get(name) for key, name in where.items()}
        try:
            one = _record(said, where["area"], f"row {number}", path.name)
        except FarmFileError as error:
            faults += error.faults
            continue
        if one.key in seen:
            notes.append(f"{path.name}: row {number} says the same as {seen[one.key]} and counts once.")
            continue
        seen[one.key] = one.label
        out.append(one)
    if faults:
        raise FarmFileError(faults[:MOST_FAULTS])
    return out, notes


def _record(row: dict[str, Any], area_heading: str, label: str, file: str) -> PassRecord:
    empty = [key for key in NEEDED if row.get(key) in (None, "")]
    if empty:
        raise fault_of(file, "is missing", "a value", f"{label}, {empty[0]}")
    try:
        day = date.fromisoformat(str(row["date"]).strip())
    except ValueError as error:
        raise fault_of(
            file, "is not a date", "a date such as 2027-05-10", f"{label}, date", str(row["date"])
        ) from error
    area, unit = str(row["area"]).strip(), UNIT.get(_bare(area_heading).removeprefix("area"))
    if area.replace(".", "").replace(",", "").isdigit() and unit is not None:
        area = f"{area} {unit}"
    said = [
        str(day),
        *(
            str(row.get(key) or "").strip().casefold()
            for key in ("field", "pass", "area", "start", "end", "operator", "rig")
        ),
    ]
    key = "record-" + hashlib.sha256(json.dumps(said).encode()).hexdigest()[:12]
    return PassRecord(
        label, day, str(row["field"]), str(row["pass"]), area, _clock(row.get("start"), f"{label}, start", file),
        _clock(row.get("end"), f"{label}, end", file), str(row.get("operator") or ""), str(row.get("rig") or ""), key,
    )  # fmt: skip


def _bare(heading: str) -> str:
    return re.sub(r"[^a-z]", "", heading.lower())


def _clock(value: Any, where: str, file: str) -> time | None:
    if value in (None, ""):
        return None
    text = str(value).strip()
    half = HALF_DAY.fullmatch(text)
    if half is not None:
        return time(int(half[1]) % 12 + 12 * (half[3].lower() == "p"), int(half[2] or 0))
    try:
        return time.fromisoformat(text if text[2:3] == ":" else f"0{text}")
    except ValueError as error:
        raise fault_of(
            file, "is not a time of day", "a time such as 13:30 or 1:30 pm", where, str(value)
        ) from error
