"""Past records that calibration learns from: weekly reports of suitable days, and what was found in the fields.

Weekly reports: a table (CSV, workbook) with ``week_ending,days_suitable``, or the answer of the US Department of
Agriculture's statistics service, as JSON (rows under ``data`` with ``week_ending`` and ``Value``) or as the table that
its pages save. Field records: a table with ``date,field,verdict`` and, if known, ``time`` (local, default noon) and
``pass``; the verdict is fit, marginal or unfit; ``worked`` counts as fit, ``too wet`` as unfit.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any

from adapters.files.bounded import decode, fault_of, read_bytes
from adapters.files.cells import as_dict, read_rows
from adapters.files.days import CLOCK_ALLOWED, DAY_ALLOWED, bare, read_clock, reader_of
from shared.errors import FarmFileError, Fault
from shared.vocabulary import DayOrder, Fitness

WORDS = {
    "fit": Fitness.FIT,
    "worked": Fitness.FIT,
    "marginal": Fitness.MARGINAL,
    "unfit": Fitness.UNFIT,
    "too wet": Fitness.UNFIT,
}
WEEK_HEADINGS = {"week_ending": ("weekending",), "days_suitable": ("dayssuitable", "value")}
CHECK_HEADINGS = {
    "date": ("date", "day"), "field": ("field", "fieldname"), "verdict": ("verdict", "found"), "time": ("time",), "pass": ("pass", "job"),
}  # fmt: skip
"""What a column is -> usual headings, small letters only."""
NOON = time(12)
MOST_FAULTS = 50
Rows = list[tuple[str, dict[str, Any]]]


@dataclass(frozen=True)
class PastCheck:
    """What was found in a field."""

    day: date
    at: time
    field: str
    verdict: Fitness
    pass_id: str | None


def read_week_reports(
    path: Path, dates: DayOrder | None = None, latest: date = date.max
) -> list[tuple[date, float]]:
    """Return (week ending, days suitable) in order of date.

    Parameters
    ----------
    dates : DayOrder, optional
        Which comes first in days such as 5/11/2027; default: what the column tells.
    latest : date, optional
        No record is of a later day.

    Raises
    ------
    FarmFileError
        Every fault at once.
    """
    answer = path.suffix.lower() != ".xlsx" and decode(read_bytes(path))[0].lstrip().startswith("{")
    rows = _json_rows(path) if answer else _rows(path, WEEK_HEADINGS, ("week_ending", "days_suitable"))
    days = reader_of((row["week_ending"] for _, row in rows), path.name, "week_ending", dates, latest)
    out: dict[date, float] = {}
    faults = []
    for place, row in rows:
        try:
            day = days.read(row["week_ending"])
        except ValueError:
            faults.append(_fault(path, f"{place}, week_ending", row["week_ending"], "is not a date", DAY_ALLOWED))  # fmt: skip
            continue
        value = _suitable(row["days_suitable"])
        if value is None:
            faults.append(_fault(path, f"{place}, days_suitable", row["days_suitable"], "cannot be", "0 to 7 days"))  # fmt: skip
        elif out.setdefault(day, value) != value:
            problem = f"differs from {out[day]:g}, which another row says of the week of {day}"
            faults.append(_fault(path, f"{place}, days_suitable", row["days_suitable"], problem, "one district, one value for a week"))  # fmt: skip
    _raise(faults)
    return sorted(out.items())


def _suitable(said: Any) -> float | None:
    try:
        value = float(said)
    except ValueError:
        return None
    return value if 0 <= value <= 7 else None


def read_past_checks(
    path: Path, fields: dict[str, str], dates: DayOrder | None = None, latest: date = date.max
) -> list[PastCheck]:
    """Return what was found in the fields, in the order of the file.

    Parameters
    ----------
    fields : mapping of id to name
    dates, latest : optional
        As of `read_week_reports`.

    Raises
    ------
    FarmFileError
        Every fault at once.
    """
    known = {text.casefold(): key for key, name in fields.items() for text in (key, name)}
    rows = _rows(path, CHECK_HEADINGS, ("date", "field", "verdict"))
    days = reader_of((row["date"] for _, row in rows), path.name, order=dates, latest=latest)
    out, faults = [], []
    for place, row in rows:
        found: dict[str, Any] = {}
        for key, read, problem, allowed in (
            ("date", days.read, "is not a date", DAY_ALLOWED),
            ("field", lambda said: known[str(said).strip().casefold()], "is no field of this farm", ", ".join(fields)),
            ("verdict", lambda said: WORDS[str(said).strip().casefold()], "is not known", ", ".join(WORDS)),
            ("time", lambda said: NOON if said == "" else read_clock(said), "is no time of day", CLOCK_ALLOWED),
        ):  # fmt: skip
            try:
                found[key] = read(row.get(key, ""))
            except (KeyError, ValueError):
                faults.append(_fault(path, f"{place}, {key}", row.get(key, ""), problem, allowed))
        if len(found) == 4:
            pass_id = str(row.get("pass", "")).strip() or None
            out.append(PastCheck(found["date"], found["time"], found["field"], found["verdict"], pass_id))
    _raise(faults)
    return out


def _rows(path: Path, usual: dict[str, tuple[str, ...]], needed: Sequence[str]) -> Rows:
    headings, lines, _ = read_rows(path)
    where = {key: name for key, names in usual.items() for name in headings if bare(name) in names}
    missing = [key for key in needed if key not in where]
    if missing:
        raise fault_of(path.name, f"lacks the column {missing[0]}", ", ".join(needed), "headings")
    if not lines:
        raise fault_of(path.name, "holds no row below its headings", "a row for each record")
    told = ((f"row {number}", as_dict(headings, cells)) for number, cells in lines)
    return [(place, {key: row.get(name, "") for key, name in where.items()}) for place, row in told]


def _json_rows(path: Path) -> Rows:
    try:
        found = json.loads(decode(read_bytes(path))[0])["data"]
        return [
            (f"data[{k}]", {"week_ending": str(row["week_ending"]), "days_suitable": str(row["Value"])})
            for k, row in enumerate(found)
        ]
    except (ValueError, KeyError, TypeError) as error:
        raise fault_of(
            path.name, "is no answer with weekly reports", "rows under data with week_ending and Value"
        ) from error


def _fault(path: Path, key: str, value: Any, problem: str, allowed: str) -> Fault:
    return Fault(path.name, key, str(value), problem, allowed)


def _raise(faults: list[Fault]) -> None:
    if faults:
        raise FarmFileError(faults[:MOST_FAULTS])
