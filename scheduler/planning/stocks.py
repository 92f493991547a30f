"""Products: what is there, what comes when, and what an area takes.

Question answered: *how much of each product can be used by when, and how much does a hectare of a pass take?*
"""

from __future__ import annotations

from math import floor

from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from scheduler.farm.programme import PassSpec
from scheduler.planning.calendars import working_day
from scheduler.planning.quarters import Quarters
from scheduler.solver.resources import Stock


def taken_by(farm: Farm, spec: PassSpec, factor: float = 1.0) -> dict[str, float]:
    """Return what a hectare of a pass takes of each product, in base units (L, kg, seeds).

    `factor` moves the rate of products that carry nitrogen.
    """
    out: dict[str, float] = {}
    for item in spec.products:
        product = farm.product_by_id[item.product]
        rate = product.rate(item.rate) * (factor if product.nitrogen_share > 0 else 1.0)
        out[item.product] = out.get(item.product, 0.0) + rate
    return out


def stock_rows(situation: Situation, grid: Quarters) -> tuple[tuple[Stock, ...], dict[str, int]]:
    """Return the engine's stocks, and their index by product; a delivery counts from the start of work that day."""
    rows: list[Stock] = []
    index: dict[str, int] = {}
    for product in situation.farm.products:
        supply = situation.supplies.get(product.id)
        stock = 0.0 if supply is None else supply.stock
        coming = []
        for day, amount, _ in () if supply is None else supply.deliveries:
            span = working_day(situation.farm, day, grid)
            coming.append((max(0, span[0] if span else grid.start_of(day)), floor(amount + 1e-6)))
        index[product.id] = len(rows)
        rows.append(Stock(product.id, max(0, floor(stock + 1e-6)), tuple(sorted(coming))))
    return tuple(rows), index
