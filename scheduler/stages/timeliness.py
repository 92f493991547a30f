"""What a late pass costs: published responses turned into convex broken lines over dates, for the engine.

A loss curve starts at the best date with no loss and never falls. Where the published points are not convex,
the greatest convex line below them is taken and the largest departure is stated (`convex_error`), so the
engine's money differs from the table by at most that share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from scheduler.stages.names import SettingRefused
from scheduler.stages.progress import StageOdds
from scheduler.stages.response import ResponseTable, middles, response_table

Point = tuple[date, float]


@dataclass(frozen=True)
class DelayCurve:
    """Loss by date of one pass.

    Attributes
    ----------
    operation, crop, table, loss_of : str
        What the curve is for; the table's name; ``yield`` or ``pass value``.
    points : tuple of (date, share)
        Convex, non-decreasing loss from the best date on; the first point has no loss. The last slope goes
        on.
    early_points : tuple of (date, share)
        Published loss before the best date (too early), latest last; empty where none is published.
    convex_error : float
        Largest amount by which `points` lies below the published response [share].
    notes : tuple of str
        What a person should know.
    source : str
        Where the response comes from, with its status.
    """

    operation: str
    crop: str
    table: str
    loss_of: str
    points: tuple[Point, ...]
    early_points: tuple[Point, ...]
    convex_error: float
    notes: tuple[str, ...]
    source: str

    def loss_at(self, day: date) -> float:
        """Return the loss share of finishing on `day`, at most 1; 0 up to the best date."""
        x = [float(point[0].toordinal()) for point in self.points]
        loss = [point[1] for point in self.points]
        at = float(day.toordinal())
        if at <= x[-1] or len(x) < 2:
            return float(np.interp(at, x, loss))
        slope = (loss[-1] - loss[-2]) / (x[-1] - x[-2])
        return min(loss[-1] + slope * (at - x[-1]), 1.0)


def delay_cost_curve(
    operation: str,
    crop: str,
    table: str | ResponseTable | None = None,
    year: int | None = None,
    until: date | None = None,
    stage: StageOdds | None = None,
    planted: date | None = None,
) -> DelayCurve:
    """Return the loss by date of one pass in one field.

    Parameters
    ----------
    operation, crop : str
        Which pass.
    table : str or ResponseTable or None
        Response selected by name (see `response.response_tables`); None for the default.
    year : int or None
        Year of the dates; needed for a table by date.
    until : date or None
        Carry the curve to this date with its last slope, and say so.
    stage : StageOdds or None
        Dates of the stages; needed for a table by stage (median dates are used).
    planted : date or None
        Planting day, done or planned; needed for a table by days from planting.
    """
    response = table if isinstance(table, ResponseTable) else response_table(operation, crop, table)
    dated, notes = _dated(response, year, stage, planted)
    best = min(range(len(dated)), key=lambda k: (dated[k][1], -k))
    early = tuple(dated[:best])
    if early and all(loss <= dated[best][1] + 1e-12 for _, loss in early):
        early = ()
    base = dated[best][1]
    late = [(day, loss - base) for day, loss in dated[best:]]
    points, error = make_convex(late)
    if until is not None and until > points[-1][0] and len(points) > 1:
        points, said = _carry_on(points, until)
        notes.append(said)
    if base > 0.0:
        notes.append(f"losses count from the best published date, itself {base:.0%} below the best yield")
    if error > 0.0005:
        notes.append(f"made convex: at most {error:.1%} below the published response")
    return DelayCurve(
        operation,
        crop,
        response.name,
        response.loss_of,
        tuple(points),
        tuple((day, loss - base) for day, loss in early),
        error,
        tuple(notes),
        f"[{response.status}] {response.source}",
    )


def make_convex(points: Sequence[Point]) -> tuple[list[Point], float]:
    """Return the greatest convex non-decreasing line below a loss by date, and the largest departure.

    Losses are first made non-decreasing (the larger loss so far), since a pass done later cannot regain what
    an earlier one lost.
    """
    ordered = sorted(points)
    x = np.array([float(day.toordinal()) for day, _ in ordered])
    loss = np.maximum.accumulate(np.array([share for _, share in ordered]))
    hull: list[int] = []
    for k in range(len(x)):
        while len(hull) > 1 and _above(x, loss, hull[-2], hull[-1], k):
            hull.pop()
        hull.append(k)
    below = np.interp(x, x[hull], loss[hull])
    # Many dates of equal loss at the start say only "no loss yet": keep the last of them and the first.
    return [(ordered[k][0], float(loss[k])) for k in hull], float(np.max(loss - below))


def closed_form_loss(
    loss_per_day: float,
    area_ha: float,
    yield_t_per_ha: float,
    price_per_t: float,
    hours_per_day: float,
    work_rate_ha_per_h: float,
    fit_share: float,
    sides: int = 2,
) -> float:
    """Return the timeliness loss of a whole job at a constant loss per day [money].

    ``W = K A^2 Y V / (Z G C p)``: the form of ASABE EP496 (symbols from memory; it follows from the mean
    delay ``A / (Z G C p)`` of a job done at an even pace).

    Parameters
    ----------
    loss_per_day : float
        K, share of yield lost per day of delay [1/day].
    area_ha, yield_t_per_ha, price_per_t : float
        A [ha], Y [t/ha], V [money/t].
    hours_per_day, work_rate_ha_per_h, fit_share : float
        G [h/day], C [ha/h], p the share of days that are fit.
    sides : int
        Z: 2 when all work lies after the best date, 4 when it is centred on it.
    """
    if sides not in (2, 4):
        raise SettingRefused(f"sides {sides!r}; allowed: 2 (all after the best date) or 4 (centred on it).")
    if min(hours_per_day, work_rate_ha_per_h, fit_share) <= 0.0:
        raise SettingRefused("hours per day, work rate and share of fit days must be above 0.")
    pace = hours_per_day * work_rate_ha_per_h * fit_share
    return loss_per_day * area_ha**2 * yield_t_per_ha * price_per_t / (sides * pace)


def _dated(
    response: ResponseTable, year: int | None, stage: StageOdds | None, planted: date | None
) -> tuple[list[Point], list[str]]:
    """Return the response as (date, loss) in this year and this field."""
    if response.axis == "date":
        if year is None:
            raise SettingRefused(f"table {response.name} goes by date: a year is needed.")
        days = [date(year, month, day) for month, day in middles(response)]
        notes = ["intervals are read at their middles"] if response.is_intervals else []
        return list(zip(days, response.loss_share, strict=True)), notes
    if response.axis == "days from planting":
        if planted is None:
            raise SettingRefused(
                f"table {response.name} goes by days from planting: a planting day is needed."
            )
        days = [planted + timedelta(days=int(position)) for position in response.positions]
        return list(zip(days, response.loss_share, strict=True)), []
    if stage is None:
        raise SettingRefused(f"table {response.name} goes by stage: the stages of the field are needed.")
    found: list[Point] = []
    for position, loss in zip(response.positions, response.loss_share, strict=True):
        day = stage.date_at(position)
        if day is not None and (not found or day > found[-1][0]):
            found.append((day, loss))
        elif day is not None:
            found[-1] = (day, loss)
    if not found:
        raise SettingRefused(
            f"table {response.name}: none of its stages is reached within the weather record."
        )
    notes = [f"by stage: {response.positions[0]} on {found[0][0]}"]
    if len(found) < len(response.positions):
        notes.append("later stages lie beyond the weather record")
    return found, notes


def _above(x: np.ndarray, loss: np.ndarray, a: int, b: int, c: int) -> bool:
    """Return whether point b lies on or above the line from a to c."""
    return bool((loss[b] - loss[a]) * (x[c] - x[a]) >= (loss[c] - loss[a]) * (x[b] - x[a]) - 1e-12)


def _carry_on(points: list[Point], until: date) -> tuple[list[Point], str]:
    """Return the points carried to `until` with the last slope, stopping at total loss."""
    (day_a, loss_a), (day_b, loss_b) = points[-2], points[-1]
    slope = (loss_b - loss_a) / (day_b - day_a).days
    days = (until - day_b).days
    if slope > 0:
        days = min(days, int((1.0 - loss_b) / slope))
    said = f"after {day_b} the last published slope is carried on ({slope:.2%} a day)"
    if days < 1:
        return points, said
    return [*points, (day_b + timedelta(days=days), loss_b + slope * days)], said
