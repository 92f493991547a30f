"""What the words of a report are read against: names of the farm, times, quantities, as people write them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.events.report import DAYS, FUTURE_TOLERANCE, day_ahead, find, read_time, weekday
from scheduler.farm.farm import Farm
from shared.errors import ReportRefused
from shared.units import UnitFault, parse
from shared.vocabulary import LIST_KEYS

Options = Mapping[str, str | None]


def quantity_of(text: str, kind: str, what: str) -> float:
    try:
        return parse(text, kind)
    except UnitFault as error:
        raise ReportRefused(f"{what} {text!r} {error.problem}; allowed: {error.allowed}.") from error


def new_id(name: str) -> str:
    """Return the id that a new thing gets from its name."""
    made = "-".join("".join(c if c.isalnum() else " " for c in name.casefold()).split())
    if not made:
        raise ReportRefused(f"the name {name!r} has no letter or digit; give another.")
    return made


BETWEEN = re.compile(r";|,(?!\d{3}\b)")
"""What stands between several values of a report; the comma of 32,000 does not."""


def as_written(key: str, text: str) -> Any:
    """Return a value as a farm file would hold it: lists, yes and no, whole numbers, else text."""
    plain = text.strip()
    if key in LIST_KEYS:
        return [part.strip() for part in BETWEEN.split(plain) if part.strip()]
    if plain.casefold() in ("yes", "true", "no", "false"):
        return plain.casefold() in ("yes", "true")
    return int(plain) if plain.isdigit() else plain


class Reader:
    """The words of one report, against one farm."""

    def __init__(self, farm: Farm, options: Options, now: datetime) -> None:
        self.farm, self.options, self.now = farm, options, now
        self.zone = ZoneInfo(farm.time_zone)

    def field(self, text: str) -> str:
        return find("field", text, {one.id: one.label for one in self.farm.fields})

    def pass_id(self, field_id: str, text: str) -> str:
        field = self.farm.field_by_id[field_id]
        passes = {one.id: one.label for one in self.farm.programme_of(field).passes}
        return find("pass", text, passes, f"{text!r} is no pass of {field.label}")

    def machine(self, text: str) -> str:
        return find("machine", text, {one.id: one.label for one in self.farm.machines})

    def operator(self, text: str) -> str:
        return find("operator", text, {one.id: one.label for one in self.farm.operators})

    def product(self, text: str) -> str:
        return find("product", text, {one.id: one.label for one in self.farm.products})

    def of_product(self, text: str, amount: str) -> dict[str, Any]:
        """Return a product and an amount of it, in its base unit."""
        product = self.farm.product_by_id[self.product(text)]
        try:
            return {"product": product.id, "amount": product.amount(amount)}
        except UnitFault as error:
            raise ReportRefused(f"amount {amount!r} {error.problem}; allowed: {error.allowed}.") from error

    def shift_day(self, text: str) -> str:
        """Return a day of working hours: a weekday as mon (every week), else its date."""
        if (number := weekday(text)) is not None:
            return DAYS[number][:3]
        today = self.now.astimezone(self.zone).date()
        try:
            day = day_ahead(text, today)
        except ValueError as error:
            raise ReportRefused(
                f"the day {text!r} cannot be read; allowed: weekdays such as mon,tue (every week), today, tomorrow or a date."
            ) from error
        if day < today:
            raise ReportRefused(f"{day:%a %d %b %Y} is over; allowed: today or a later day.")
        return day.isoformat()

    def until(self) -> str | None:
        text = self.options.get("until")
        return None if not text else read_time(text, self.now, self.zone, "end").isoformat()

    def since(self) -> dict[str, Any]:
        """Return from when a gauge counts, where that is said; else nothing (it counts from midnight)."""
        text = self.options.get("since")
        return {} if not text else {"since": read_time(text, self.now, self.zone, "begin").isoformat()}

    def worked_times(self) -> dict[str, Any]:
        """Return when work began and ended, where its begin is said; else nothing."""
        since, at = self.options.get("since"), self.options.get("at")
        if not since:
            return {}
        ended = read_time(at, self.now, self.zone) if at else self.now
        return {
            "started_at": read_time(since, self.now, self.zone, "begin").isoformat(),
            "ended_at": ended.isoformat(),
        }

    def later_start(self) -> str | None:
        """Return the start of something known ahead: ``--at`` in the future."""
        text = self.options.get("at")
        start = read_time(text, self.now, self.zone) if text else self.now
        return start.isoformat() if start > self.now + FUTURE_TOLERANCE else None

    def why(self) -> str:
        return self.options.get("why") or ""

    def who(self) -> dict[str, Any]:
        out: dict[str, Any] = {}
        if self.options.get("operator"):
            out["operator"] = self.operator(str(self.options["operator"]))
        if self.options.get("rig"):
            out["rig"] = self.options["rig"]
        return out
