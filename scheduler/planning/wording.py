"""Names, times and amounts as people on the farm read them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from scheduler.farm.farm import Farm
from scheduler.farm.product import AMOUNT_KIND, Form
from shared.units import decimals, show, to_people


def when(moment: datetime) -> str:
    """Write a time: ``Tue 11 May 07:30``."""
    return f"{moment:%a} {moment.day} {moment:%b %H:%M}"


def day_text(day: date) -> str:
    """Write a day: ``Tue 11 May``."""
    return f"{day:%a} {day.day} {day:%b}"


def by_text(moment: datetime) -> str:
    """Write a time by which something is done: ``Tue 11 May 07:30``, or ``the end of Tue 11 May``."""
    if (moment.hour, moment.minute) == (0, 0):
        return f"the end of {day_text(moment.date() - timedelta(days=1))}"
    return when(moment)


def money(amount: float) -> str:
    """Write money without cents."""
    return f"${amount:,.0f}"


def listed(words: Iterable[str]) -> str:
    """Join words: ``a, b and c``."""
    items = list(words)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def first_few(words: Iterable[str], most: int = 5) -> str:
    """Join the first words, each once, and count the rest: ``a, b and 3 more``."""
    items = list(dict.fromkeys(words))
    more = len(items) - most
    return ", ".join(items[:most]) + (f" and {more} more" if more > 0 else "")


class Names:
    """The names that people use, ids where there are none."""

    def __init__(self, farm: Farm | None) -> None:
        self.farm = farm

    def field(self, name: str) -> str:
        """Name of a field."""
        return self.farm.field_label(name) if self.farm else name

    def job(self, field: str, name: str) -> str:
        """Name of a pass in a field."""
        found = self.farm.spec(field, name) if self.farm else None
        return found.label if found else name

    def works(self, work: Iterable[tuple[str, str]]) -> list[str]:
        """Name work given as (field, pass), by pass with all its fields: ``Plant corn in Heron and Far West``."""
        fields: dict[str, dict[str, None]] = {}
        for field, name in work:
            fields.setdefault(self.job(field, name), {})[self.field(field)] = None
        return [f"{job} in {listed(where)}" for job, where in fields.items()]

    def person(self, name: str | None) -> str:
        """Name of a person."""
        return self.farm.operator_label(name or "nobody") if self.farm else name or "nobody"

    def machine(self, name: str) -> str:
        """Name of a machine."""
        return self.farm.machine_label(name) if self.farm else name

    def machines(self, names: tuple[str, ...]) -> str:
        """Names of the machines of a rig, or ``on foot``."""
        return " + ".join(self.machine(name) for name in names) or "on foot"

    def area(self, area_ha: float, digits: int | None = None) -> str:
        """An area in the farm's units, small ones with a decimal."""
        digits = (0 if area_ha >= 4 else 1) if digits is None else digits
        return show(area_ha, "area_ha", self.farm.units if self.farm else "metric", digits)

    def product(self, name: str) -> str:
        """Name of a product."""
        found = self.farm.product_by_id.get(name) if self.farm else None
        return found.label if found else name

    def amount(self, name: str, amount: float) -> str:
        """An amount of a product: bags where it comes in packages, else volume, mass or count."""
        found = self.farm.product_by_id.get(name) if self.farm else None
        if found is None:
            return f"{amount:,.0f}"
        if found.package_amount:
            bags = f"{amount / found.package_amount:,.1f}".removesuffix(".0")
            return f"{bags} bag{'' if bags == '1' else 's'}"
        kind, system = AMOUNT_KIND[found.form], self.farm.units if self.farm else "metric"
        digits = 0 if found.form is Form.SEED else decimals(to_people(amount, kind, system)[0], 0)
        return show(amount, kind, system, digits)
