"""Stores: what the plan takes of each product by day, against what is there and what comes; what to order by when."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.planning.jobs import rate_factor
from scheduler.planning.ready import block_products
from scheduler.planning.wording import Names
from scheduler.wiring.office import View

ORDER_DAYS = 3
"""Days between ordering and having it (assumption; ask your supplier)."""
LEAST = 1e-6


@dataclass(frozen=True)
class StoreDay:
    """One day of one product."""

    day: str
    need: str
    comes: str
    left: str
    short: bool


@dataclass(frozen=True)
class StoreLine:
    """One product."""

    id: str
    name: str
    there: str
    season_need: str
    coming: str
    season_short: str
    order: str
    days: tuple[StoreDay, ...]


def rows(view: View) -> list[StoreLine]:
    """Return every product that is stocked or needed, what is short first."""
    names = Names(view.situation.farm)
    need = _season_need(view)
    by_day: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    for block in () if view.plan is None else view.plan.blocks:
        for product, amount in block_products(block, view.situation).items():
            by_day[product][block.start.date()] += amount
    known = sorted({*need, *view.situation.supplies, *by_day})
    out = [_line(view, names, product, need.get(product, 0.0), by_day[product]) for product in known]
    return sorted(out, key=lambda row: (row.order == "", row.season_short == "", row.name))


def _season_need(view: View) -> dict[str, float]:
    farm, situation = view.situation.farm, view.situation
    need: dict[str, float] = defaultdict(float)
    for field, pass_id in situation.passes:
        spec, left = farm.spec(field, pass_id), situation.left_ha(field, pass_id)
        if spec is not None and left > 0:
            for product, rate in farm.taken_by(spec, rate_factor(situation, field, spec)).items():
                need[product] += rate * left
    return need


def _line(view: View, names: Names, product: str, season: float, by_day: dict[date, float]) -> StoreLine:
    supply = view.situation.supplies.get(product)
    stock = 0.0 if supply is None else supply.stock
    deliveries = () if supply is None else supply.deliveries
    coming = sum(amount for _, amount, _ in deliveries)
    left, out, first_short = stock, [], None
    for k in range(view.outlook.days):
        day = view.outlook.first_day + timedelta(days=k)
        comes, need = sum(a for d, a, _ in deliveries if d == day), by_day.get(day, 0.0)
        left += comes - need
        if left < -LEAST and first_short is None:
            first_short = day
        if need > LEAST or comes > LEAST:
            out.append(
                StoreDay(
                    f"{day:%a %d %b}", names.amount(product, need) if need > LEAST else "", names.amount(product, comes) if comes > LEAST else "",
                    names.amount(product, max(0.0, left)), left < -LEAST,
                )
            )  # fmt: skip
    short = season - stock - coming
    order = ""
    if first_short is not None:
        by = first_short - timedelta(days=ORDER_DAYS)
        order = f"by {by:%a %d %b}" if by > view.outlook.first_day else "now"
    elif short > max(LEAST, 1e-3 * season):
        order = "before the last fields"
    return StoreLine(
        product, names.product(product), names.amount(product, stock), names.amount(product, season),
        names.amount(product, coming) if coming else "", names.amount(product, short) if short > max(LEAST, 1e-3 * season) else "",
        order, tuple(out),
    )  # fmt: skip
