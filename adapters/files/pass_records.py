"""Work done, out of a table that somebody kept: one row for what was done of a pass in a field on a day."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any

from adapters.files.bounded import fault_of
from adapters.files.cells import as_dict, read_rows
from adapters.files.days import CLOCK_ALLOWED, DAY_ALLOWED, DayReader, bare, read_clock, reader_of
from shared.errors import FarmFileError, Fault
from shared.vocabulary import DayOrder

HEADINGS = {
    "date": ("date", "day"), "field": ("field", "fieldname"), "pass": ("pass", "operation", "job"),
    "area": ("area", "acres", "ac", "hectares", "ha", "areaac", "areaacres", "areaha", "areahectares"), "start": ("start", "from"), "end": ("end", "to", "stop"),
    "operator": ("operator", "driver", "by"), "rig": ("rig", "machine"),
}  # fmt: skip
"""What a column is -> usual headings, small letters only."""
NEEDED = ("date", "field", "pass", "area")
MOST_FAULTS = 30
UNIT = {"acres": "ac", "ac": "ac", "hectares": "ha", "ha": "ha"}


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


def read_pass_records(
    path: Path, dates: DayOrder | None = None, latest: date = date.max
) -> tuple[list[PassRecord], list[str]]:
    """Return the rows of a table (CSV or workbook) and notes; a row that stands there twice counts once.

    Parameters
    ----------
    dates : DayOrder, optional
        Which comes first in days such as 5/11/2027; default: what the column tells.
    latest : date, optional
        The day on which the table is read: no work in it was done later.

    Raises
    ------
    FarmFileError
        A column is missing, or dates or times cannot be read (every one is named); nothing is returned then.
    """
    headings, rows, notes = read_rows(path)
    where = {key: name for key, usual in HEADINGS.items() for name in headings if bare(name) in usual}
    missing = [key for key in NEEDED if key not in where]
    if missing:
        raise fault_of(path.name, f"lacks the column {missing[0]}", ", ".join(NEEDED) + " and, if known, start, end, operator, rig", "headings")  # fmt: skip
    out: list[PassRecord] = []
    seen: dict[str, str] = {}
    faults: list[Fault] = []
    told = [(number, as_dict(headings, cells)) for number, cells in rows]
    days = reader_of((row.get(where["date"], "") for _, row in told), path.name, order=dates, latest=latest)
    for number, row in told:
        said = {key: row.get(name) for key, name in where.items()}
        try:
            one = _record(said, days, where["area"], f"row {number}", path.name)
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


def _record(row: dict[str, Any], days: DayReader, area_heading: str, label: str, file: str) -> PassRecord:
    empty = [key for key in NEEDED if row.get(key) in (None, "")]
    if empty:
        raise fault_of(file, "is missing", "a value", f"{label}, {empty[0]}")
    try:
        day = days.read(row["date"])
    except ValueError as error:
        raise fault_of(file, "is not a date", DAY_ALLOWED, f"{label}, date", str(row["date"])) from error
    area, unit = str(row["area"]).strip(), UNIT.get(bare(area_heading).removeprefix("area"))
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


def _clock(value: Any, where: str, file: str) -> time | None:
    if value in (None, ""):
        return None
    try:
        return read_clock(value)
    except ValueError as error:
        raise fault_of(file, "is not a time of day", CLOCK_ALLOWED, where, str(value)) from error
