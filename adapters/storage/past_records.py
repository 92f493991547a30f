"""Past records that calibration learns from: weekly reports of suitable days, and what was found in the fields.

Weekly reports: CSV with ``week_ending,days_suitable``, or the JSON answer of the US Department of Agriculture's
statistics service (rows under ``data`` with ``week_ending`` and ``Value``). Field records: CSV with
``date,field,verdict`` and, if known, ``time`` (local, default noon) and ``pass``; the verdict is fit, marginal or
unfit; ``worked`` counts as fit, ``too wet`` as unfit.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path

from shared.errors import FarmFileError, Fault
from shared.vocabulary import Fitness

WORDS = {
    "fit": Fitness.FIT,
    "worked": Fitness.FIT,
    "marginal": Fitness.MARGINAL,
    "unfit": Fitness.UNFIT,
    "too wet": Fitness.UNFIT,
}
ROWS_MOST = 100_000


@dataclass(frozen=True)
class PastCheck:
    """What was found in a field."""

    day: date
    at: time
    field: str
    verdict: Fitness
    pass_id: str | None


def read_week_reports(path: Path) -> list[tuple[date, float]]:
    """Return (week ending, days suitable) in order of date.

    Raises
    ------
    FarmFileError
        Every fault at once.
    """
    text = _text(path)
    rows = (
        _json_rows(text, path)
        if text.lstrip().startswith("{")
        else _csv_rows(text, path, ("week_ending", "days_suitable"))
    )
    out, faults = {}, []
    for place, row in rows:
        day, faults_here = _date(row["week_ending"], path, f"{place}, week_ending")
        faults += faults_here
        try:
            value = float(row["days_suitable"])
            if not 0 <= value <= 7:
                raise ValueError
        except ValueError:
            faults.append(
                Fault(path.name, f"{place}, days_suitable", row["days_suitable"], "cannot be", "0 to 7 days")
            )
            continue
        if day is not None:
            out[day] = value
    _raise(faults)
    return sorted(out.items())


def read_past_checks(path: Path, fields: dict[str, str]) -> list[PastCheck]:
    """Return what was found in the fields, in the order of the file.

    Parameters
    ----------
    fields : mapping of id to name
    """
    known = {text.casefold(): key for key, name in fields.items() for text in (key, name)}
    out, faults = [], []
    for place, row in _csv_rows(_text(path), path, ("date", "field", "verdict")):
        day, found = _date(row["date"], path, f"{place}, date")
        faults += found
        field = known.get(row["field"].strip().casefold())
        if field is None:
            faults.append(
                Fault(
                    path.name, f"{place}, field", row["field"], "is no field of this farm", ", ".join(fields)
                )
            )
        verdict = WORDS.get(row["verdict"].strip().casefold())
        if verdict is None:
            faults.append(
                Fault(path.name, f"{place}, verdict", row["verdict"], "is not known", ", ".join(WORDS))
            )
        try:
            at = time.fromisoformat((row.get("time") or "12:00").strip())
        except ValueError:
            faults.append(
                Fault(
                    path.name,
                    f"{place}, time",
                    str(row.get("time")),
                    "is no time of day",
                    "a time such as 13:30",
                )
            )
            continue
        if day is not None and field is not None and verdict is not None:
            out.append(PastCheck(day, at, field, verdict, (row.get("pass") or "").strip() or None))
    _raise(faults)
    return out


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FarmFileError(
            [Fault(path.name, "the file", "", "cannot be read", "a text file in UTF-8")]
        ) from error


def _csv_rows(text: str, path: Path, needed: tuple[str, ...]) -> list[tuple[str, dict[str, str]]]:
    reader = csv.DictReader(io.StringIO(text))
    missing = [name for name in needed if name not in (reader.fieldnames or ())]
    if missing:
        raise FarmFileError(
            [Fault(path.name, "header", "", f"lacks the column {missing[0]}", ",".join(needed))]
        )
    rows = [
        (f"row {k}", {key: value or "" for key, value in row.items() if key})
        for k, row in enumerate(reader, 2)
    ]
    if not rows or len(rows) > ROWS_MOST:
        raise FarmFileError(
            [Fault(path.name, "the file", "", f"holds {len(rows)} rows", f"1 to {ROWS_MOST}")]
        )
    return rows


def _json_rows(text: str, path: Path) -> list[tuple[str, dict[str, str]]]:
    try:
        found = json.loads(text)["data"]
        return [
            (f"data[{k}]", {"week_ending": str(row["week_ending"]), "days_suitable": str(row["Value"])})
            for k, row in enumerate(found)
        ]
    except (ValueError, KeyError, TypeError) as error:
        allowed = "rows under data with week_ending and Value"
        raise FarmFileError(
            [Fault(path.name, "the file", "", "is no answer with weekly reports", allowed)]
        ) from error


def _date(text: str, path: Path, place: str) -> tuple[date | None, list[Fault]]:
    try:
        return date.fromisoformat(text.strip()), []
    except ValueError:
        return None, [Fault(path.name, place, text, "is not a date", "a date such as 2027-05-10")]


def _raise(faults: list[Fault]) -> None:
    if faults:
        raise FarmFileError(faults[:50])
