"""What coming late, or never, with a pass costs in a field: money by date, convex and never falling.

Published responses (`scheduler.stages.timeliness`) times the field's crop value; where nothing is published, a plain rule
that is labelled as an assumption. A farm's own `loss_per_ha` or `loss_share` is the price of never doing it; curves are
scaled down to it, so that late is never dearer than never.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from scheduler.farm.farm import Farm
from scheduler.farm.land import Field
from scheduler.farm.programme import PassSpec
from scheduler.stages import delay_cost_curve, response_table, response_tables
from scheduler.windows.crop import CropView
from shared.vocabulary import Operation

Points = tuple[tuple[date, float], ...]

YIELD_T_PER_HA = {"corn": 11.3, "soybean": 3.4}
"""Where the farm states no expected yield: about 180 and 50 bu/ac (assumption)."""
PRICE_PER_T = {"corn": 165.0, "soybean": 400.0}
"""Where the farm states no price (assumption)."""
UNDONE_SHARE = {
    Operation.PLANT: 0.60, Operation.TERMINATE: 0.12, Operation.BAND_NITROGEN: 0.20, Operation.SIDE_DRESS: 0.15,
    Operation.SPRAY: 0.20, Operation.STRIP_TILL: 0.03,
}  # fmt: skip
"""Share of the crop's value lost when a pass is never done (assumption; the farm file's own numbers go first)."""
UNDONE_PER_HA = {
    Operation.INTERSEED: 60.0, Operation.SEED_COVER: 60.0, Operation.SCOUT: 10.0, Operation.TISSUE_SAMPLE: 8.0,
}  # fmt: skip
"""Money per hectare lost when never done, for work not tied to this year's yield (assumption)."""
PLAIN_LATE_SHARE = 0.5
"""Without a published response: half of the loss of never doing it by the last day of the window, nothing up to the
best days (assumption)."""
PLAIN_SPAN_D = 21


@dataclass(frozen=True)
class Loss:
    """Money by the day on which the whole field's pass is done, money when never, and where it comes from."""

    points: Points
    undone: float
    source: str


def crop_value(farm: Farm, field: Field) -> float:
    """Return what the field's crop is expected to fetch [money]."""
    crop = field.crop.value
    per_ha = field.expected_yield_t_per_ha or YIELD_T_PER_HA[crop]
    return per_ha * farm.price_per_t.get(crop, PRICE_PER_T[crop]) * field.area_ha


def loss_of(
    farm: Farm, field: Field, spec: PassSpec, crop: CropView,
    span: tuple[date, date], ideal_to: date | None, closes: date | None,
) -> Loss:  # fmt: skip
    """Return the loss by date of a pass.

    Parameters
    ----------
    span : (date, date)
        First day of the horizon and the last day the curve must reach.
    ideal_to, closes : date or None
        Last best and last allowed day, for passes without a published response.
    """
    first, until = span
    value = crop_value(farm, field)
    undone = _undone(farm, field, spec, value)
    stated = spec.loss_per_ha is not None or spec.loss_share is not None
    curves, sources = [], []
    for operation in spec.operations:
        worth = value if operation is not Operation.INTERSEED else UNDONE_PER_HA[operation] * field.area_ha
        found = _published(farm, field, spec, operation, crop, first, until)
        if found is not None:
            curves.append(tuple((day, share * worth) for day, share in found[0]))
            sources.append(found[1])
    if not curves:
        return Loss(
            _plain(first, until, ideal_to, closes, undone), undone, "no published response: assumption"
        )
    points = _upto(_sum(curves), first, until)
    at_close = _at(points, closes or until)
    if at_close > undone and stated:
        points = tuple((day, loss * undone / at_close) for day, loss in points)
    return Loss(points, max(undone, at_close if not stated else 0.0), "; ".join(dict.fromkeys(sources)))


def _undone(farm: Farm, field: Field, spec: PassSpec, value: float) -> float:
    if spec.loss_per_ha is not None:
        return spec.loss_per_ha * field.area_ha
    if spec.loss_share is not None:
        return spec.loss_share * value
    shares = sum(UNDONE_SHARE.get(operation, 0.0) for operation in spec.operations)
    fixed = sum(UNDONE_PER_HA.get(operation, 0.0) for operation in spec.operations)
    return shares * value + fixed * field.area_ha


def _published(
    farm: Farm, field: Field, spec: PassSpec, operation: Operation, crop: CropView, first: date, until: date
) -> tuple[Points, str] | None:
    tables = response_tables(operation.value, field.crop.value)
    if not tables:
        return None
    name = (spec.delay_curve if operation is spec.operation else "") or _of_region(tables, farm.plan.region)
    table = response_table(operation.value, field.crop.value, name or None)
    if table.axis == "stage" and all(crop.stage.date_at(place) is None for place in table.positions):
        return ((first, 0.0),), f"{table.name}, not reached this season"
    curve = delay_cost_curve(
        operation.value, field.crop.value, table, first.year, until, crop.stage, crop.planted
    )
    return curve.points, curve.table


def _of_region(tables: Mapping[str, object], region: str) -> str:
    """Return the table that the farm's region names, in full or by its first word; empty for the default."""
    if region in tables:
        return region
    return next((name for name in tables if name.split("_")[0] == region.lower()), "")


def _plain(first: date, until: date, ideal_to: date | None, closes: date | None, undone: float) -> Points:
    last = min(closes, until) if closes is not None else first + timedelta(days=PLAIN_SPAN_D)
    best = ideal_to if ideal_to is not None else last - timedelta(days=PLAIN_SPAN_D)
    best = min(max(best, first - timedelta(days=60)), last - timedelta(days=1))
    top = PLAIN_LATE_SHARE * undone
    slope = top / (last - best).days
    days = max((until - last).days, 0)
    end = last + timedelta(days=min(days, int(top / slope) if slope > 0 else days))
    points = [(best, 0.0), (last, top)]
    return tuple(points if end <= last else [*points, (end, top + slope * (end - last).days)])


def _sum(curves: list[Points]) -> Points:
    days = sorted({day for curve in curves for day, _ in curve})
    return tuple((day, sum(_at(curve, day) for curve in curves)) for day in days)


def _at(points: Points, day: date) -> float:
    """Return the loss on a day; the last slope goes on."""
    x = [float(d.toordinal()) for d, _ in points]
    y = [loss for _, loss in points]
    at = float(day.toordinal())
    if at <= x[-1] or len(x) < 2:
        return float(np.interp(at, x, y))
    return y[-1] + (y[-1] - y[-2]) / (x[-1] - x[-2]) * (at - x[-1])


def _upto(points: Points, first: date, until: date) -> Points:
    """Return the curve with a last point at `until` at least, and a first one not after the horizon's start."""
    out = list(points)
    if out[0][0] > first:
        out.insert(0, (first, 0.0))
    if out[-1][0] < until:
        out.append((until, _at(points, until)))
    return tuple(out)
