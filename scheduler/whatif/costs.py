"""What a hired thing costs, as people say it: by the hour, the acre, the day, or once."""

from __future__ import annotations

from dataclasses import dataclass

from shared.errors import ReportRefused
from shared.units import UnitFault, parse

DAY_ENDINGS = ("/day", "/d", " a day", " per day")


@dataclass(frozen=True)
class Price:
    """Money by hour of use, by hectare worked, by day of hire, and once; what is not said is 0."""

    per_h: float = 0.0
    per_ha: float = 0.0
    per_day: float = 0.0
    once: float = 0.0

    def fixed(self, days: float) -> float:
        """Return what is owed whatever is done: days of hire and what is paid once."""
        return self.once + self.per_day * days


def read_price(text: str) -> Price:
    """Return a price such as ``900 $/day``, ``16 $/ac``, ``28 $/h`` or ``2500 $``.

    Raises
    ------
    ReportRefused
        Not a price.
    """
    plain = text.strip()
    for ending in DAY_ENDINGS:
        if plain.casefold().endswith(ending):
            return Price(per_day=_money(plain[: -len(ending)], "money", text))
    for kind in ("money_per_h", "money_per_ha", "money"):
        try:
            value = _money(plain, kind, text)
        except ReportRefused:
            continue
        return Price(
            per_h=value if kind == "money_per_h" else 0.0,
            per_ha=value if kind == "money_per_ha" else 0.0,
            once=value if kind == "money" else 0.0,
        )
    raise _refused(text)


def _money(text: str, kind: str, written: str) -> float:
    try:
        value = parse(text, kind)
    except UnitFault as error:
        raise _refused(written) from error
    if value < 0:
        raise _refused(written)
    return value


def _refused(text: str) -> ReportRefused:
    return ReportRefused(
        f'the cost {text!r} is no price; allowed: "900 $/day", "16 $/ac", "28 $/h" or "2500 $".'
    )
