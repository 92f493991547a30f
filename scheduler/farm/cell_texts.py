"""Shifts, licences and deliveries in one cell of a table, as people write them; parts are separated by ``;``.

    mon-fri 06:00-21:00; sat 07:00-13:00; 2027-05-16 07:00-15:00
    applicator until 2029-03-31 no. A-17; forklift
    n-2: 2027-05-14 16000 gal; 2027-05-20 16000 gal

In the TOML file they are tables; both are read into the same records.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BeforeValidator

from scheduler.farm.quantities import fault
from shared.clock import is_iso_date

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
SHIFT = re.compile(r"([a-z0-9,\s-]+?)\s+(\d{1,2}:\d{2})\s*-\s*(\d{1,2}:\d{2})", re.IGNORECASE)
LICENCE = re.compile(r"(?P<name>.+?)(?:\s+until\s+(?P<expires>\S+))?(?:\s+no\.\s*(?P<number>.+))?")
DELIVERY = re.compile(r"(?:(?P<id>[^:;\s]+)\s*:\s*)?(?P<date>\d{4}-\d{2}-\d{2})\s+(?P<amount>.+)")


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def read_shifts(value: Any) -> Any:
    """Read the shifts of a cell; anything but text is passed on."""
    if not isinstance(value, str):
        return value
    out = []
    for part in _parts(value):
        found = SHIFT.fullmatch(part)
        if found is None:
            raise fault("is no shift", "days and hours such as mon-fri 06:00-21:00; sat 07:00-13:00")
        out.append({"days": _days(found[1]), "start": found[2], "end": found[3]})
    return out


def _days(text: str) -> list[str]:
    out: list[str] = []
    for part in re.split(r"[,\s]+", text.strip().lower()):
        if is_iso_date(part):
            out.append(part)
            continue
        first, dash, last = part.partition("-")
        if first not in WEEKDAYS or (dash and last not in WEEKDAYS):
            raise fault(
                f"names the day {part!r}",
                f"days such as mon-fri or mon,wed: {', '.join(WEEKDAYS)}; or a date such as 2027-05-16",
            )
        a, b = WEEKDAYS.index(first), WEEKDAYS.index(last if dash else first)
        out += [WEEKDAYS[k % 7] for k in range(a, b + 1 if b >= a else b + 8)]
    return out


def read_licences(value: Any) -> Any:
    """Read the licences of a cell; anything but text is passed on."""
    if not isinstance(value, str):
        return value
    found = [LICENCE.fullmatch(part) for part in _parts(value)]
    return [{key: text for key, text in one.groupdict().items() if text} for one in found if one is not None]


def read_deliveries(value: Any) -> Any:
    """Read the deliveries of a cell; anything but text is passed on."""
    if not isinstance(value, str):
        return value
    out = []
    for part in _parts(value):
        found = DELIVERY.fullmatch(part)
        if found is None:
            raise fault("is no delivery", "a date and an amount such as n-2: 2027-05-14 16000 gal")
        out.append({key: text for key, text in found.groupdict().items() if text})
    return out


FromShiftText, FromLicenceText, FromDeliveryText = (
    BeforeValidator(one) for one in (read_shifts, read_licences, read_deliveries)
)


def shift_text(shifts: Iterable[Mapping[str, Any]]) -> str:
    """Write shifts as a cell holds them."""
    return "; ".join(
        f"{days_text(list(one.get('days', WEEKDAYS[:6])))} {str(one['start'])[:5]}-{str(one['end'])[:5]}"
        for one in shifts
    )


def days_text(days: list[str]) -> str:
    """Write days of shifts, several in a row as mon-fri."""
    places = [WEEKDAYS.index(day) for day in days if day in WEEKDAYS]
    run = len(places) == len(days) > 2 and places == list(range(places[0], places[0] + len(places)))
    return f"{days[0]}-{days[-1]}" if run else ",".join(days)


def licence_text(licences: Iterable[Mapping[str, Any]]) -> str:
    """Write licences as a cell holds them."""
    return "; ".join(
        one["name"] + (f" until {one['expires']}" if one.get("expires") else "") + (f" no. {one['number']}" if one.get("number") else "")
        for one in licences
    )  # fmt: skip


def delivery_text(deliveries: Iterable[Mapping[str, Any]]) -> str:
    """Write deliveries as a cell holds them."""
    return "; ".join(
        (f"{one['id']}: " if one.get("id") else "") + f"{one['date']} {one['amount']}" for one in deliveries
    )


NESTED = {
    "shift": (shift_text, read_shifts),
    "licences": (licence_text, read_licences),
    "delivery": (delivery_text, read_deliveries),
}
"""Key -> how its tables are written into a cell, and read."""
