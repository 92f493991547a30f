"""Published responses: what share of yield (or of a pass's own worth) is lost when it comes late.

Tables are regional and selected by name; they disagree in June by a quarter of the yield, so they are never
averaged. Outside its dates a table answers NaN: unknown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from scheduler.stages.names import SettingRefused
from scheduler.stages.published import rows

#: A leap year holds every day of the year; only distances matter.
_YEAR = 2000


@dataclass(frozen=True)
class ResponseTable:
    """One published (or assumed) response to lateness.

    Attributes
    ----------
    name, operation, crop, region : str
        What it is selected by.
    axis : str
        ``date`` (day of year), ``stage`` or ``days from planting``.
    positions : tuple of str
        Where on the axis; for an interval "MM-DD/MM-DD".
    loss_share : tuple of float
        Loss at each position, 0 to 1.
    loss_of : str
        ``yield`` or ``pass value`` (what a cover crop is worth).
    is_default : bool
        Taken when no table is named.
    status, source : str
        V read, V2 read quoted, M from memory, A assumption; and where.
    """

    name: str
    operation: str
    crop: str
    region: str
    axis: str
    positions: tuple[str, ...]
    loss_share: tuple[float, ...]
    loss_of: str
    is_default: bool
    status: str
    source: str

    @property
    def is_intervals(self) -> bool:
        """Whether the table gives one value per stretch of dates instead of points."""
        return "/" in self.positions[0]


def response_tables(operation: str, crop: str) -> dict[str, ResponseTable]:
    """Return the tables for an operation and crop by name."""
    groups: dict[str, list[dict[str, str]]] = {}
    for row in (*rows("planting_yield.csv"), *rows("timeliness_response.csv")):
        if row["operation"] == operation and row["crop"] == crop:
            groups.setdefault(row["table"], []).append(row)
    return {name: _build(name, group) for name, group in groups.items()}


def response_table(operation: str, crop: str, name: str | None = None) -> ResponseTable:
    """Return one table by name, or the default of the operation and crop."""
    known = response_tables(operation, crop)
    if not known:
        raise SettingRefused(f"no response to lateness is known for {operation} in {crop}.")
    if name is None:
        return next((table for table in known.values() if table.is_default), next(iter(known.values())))
    if name not in known:
        raise SettingRefused(
            f"{operation} in {crop}: no response table {name!r}; allowed: {', '.join(sorted(known))}."
        )
    return known[name]


def relative_yield(table: ResponseTable | str, day: date, crop: str = "corn") -> float:
    """Return the yield of planting on `day` as a share of the best (0 to 1); NaN outside the table's dates.

    A table of points is read straight between its points; a table of intervals gives the value of the
    interval that holds the day (a day on a shared border belongs to the earlier one).
    """
    if isinstance(table, str):
        table = response_table("plant", crop, table)
    if table.axis != "date":
        raise SettingRefused(f"table {table.name} is not by date but by {table.axis}.")
    x = day_number(day)
    if table.is_intervals:
        for span, loss in zip(table.positions, table.loss_share, strict=True):
            first, last = (_number(part) for part in span.split("/"))
            if first <= x <= last:
                return 1.0 - loss
        return math.nan
    at = np.array([_number(position) for position in table.positions])
    if not at[0] <= x <= at[-1]:
        return math.nan
    return float(1.0 - np.interp(x, at, table.loss_share))


def day_number(day: date) -> float:
    """Return a date's place in the year, counted as in a leap year so that tables match every year."""
    return float(date(_YEAR, day.month, day.day).toordinal())


def middles(table: ResponseTable) -> list[tuple[int, int]]:
    """Return (month, day) of every position of a date table; the middle of an interval, rounded down."""
    out = []
    for position in table.positions:
        ends = [_number(part) for part in position.split("/")]
        at = date.fromordinal(int(sum(ends) // len(ends)))
        out.append((at.month, at.day))
    return out


def _number(month_day: str) -> float:
    month, day = month_day.split("-")
    return day_number(date(_YEAR, int(month), int(day)))


def _build(name: str, group: list[dict[str, str]]) -> ResponseTable:
    head = group[0]
    if "relative_yield_pct" in head:
        loss = [round(1.0 - float(row["relative_yield_pct"]) / 100.0, 6) for row in group]
    else:
        loss = [round(float(row["loss_pct"]) / 100.0, 6) for row in group]
    return ResponseTable(
        name,
        head["operation"],
        head["crop"],
        head["region"],
        head["axis"],
        tuple(row["position"] for row in group),
        tuple(loss),
        head.get("loss_of") or "yield",
        head["default"] == "yes",
        head["status"],
        head["source"],
    )
