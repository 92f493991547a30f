"""Products: what is there, and what comes when.

Question answered: *how much of each product can be used by when?*
"""

from __future__ import annotations

from math import floor

from scheduler.events.situation import Situation
from scheduler.planning.calendars import working_day
from scheduler.planning.quarters import Quarters
from scheduler.solver.resources import Stock


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
