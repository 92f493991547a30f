"""Quantities as people say them: `an inch and a half`, `3/4 in`, `two inches`, `half an inch`, `1 1/2 in`, `3 hours`, `two days`.

Input: some words of a sentence; output: a number with its unit, as `shared.units` reads it, or a length of time, or nothing.
"""

from __future__ import annotations

import re
from collections.abc import Container, Sequence

NUMBERS = {
    "a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0, "five": 5.0, "six": 6.0, "seven": 7.0,
    "eight": 8.0, "nine": 9.0, "ten": 10.0, "eleven": 11.0, "twelve": 12.0, "twenty": 20.0, "thirty": 30.0, "forty": 40.0,
    "fifty": 50.0, "sixty": 60.0, "eighty": 80.0,
}  # fmt: skip
PARTS = {
    "half": 0.5,
    "quarter": 0.25,
    "quarters": 0.25,
    "third": 1 / 3,
    "thirds": 1 / 3,
    "tenth": 0.1,
    "tenths": 0.1,
}
TENTHS = ("tenth", "tenths")
"""Of an inch, where no unit is said: rain is told so (common speech, no source)."""
UNITS = {
    "inch": "in", "inches": "in", "in": "in", "mm": "mm", "acre": "ac", "acres": "ac", "ac": "ac", "hectares": "ha", "ha": "ha",
    "gallon": "gal", "gallons": "gal", "gal": "gal",
}  # fmt: skip
HOURS = {
    "minutes": 1 / 60, "min": 1 / 60, "hour": 1.0, "hours": 1.0, "hrs": 1.0, "h": 1.0, "day": 24.0, "days": 24.0, "week": 168.0,
    "weeks": 168.0,
}  # fmt: skip
SHORT_FORMS = ("in", "ac", "ha", "mm", "gal", "min", "h", "hrs")
"""Short forms that are words of their own or of nothing: `an in` is no inch."""
NEED_A_NUMBER = (*SHORT_FORMS, "minutes", "hours", "days", "weeks", "hour", "day", "week")
"""Units that are none without a number before them."""
DIGITS, FRACTION = re.compile(r"\d+(\.\d+)?|\.\d+"), re.compile(r"(\d{1,2})/(\d{1,2})")


def spoken(words: Sequence[str]) -> str:
    """Return the quantity that all of the words together are, else an empty text."""
    if (
        len(words) == 2
        and words[1].casefold() in TENTHS
        and (part := _part([one.casefold() for one in words]))
    ):
        return f"{part:.4g} in"
    value, unit = _quantity(words, UNITS)
    return "" if value is None else f"{value:.4g} {UNITS[unit]}"


def lasting(words: Sequence[str]) -> str:
    """Return how many hours all of the words together are (`an hour and a half` 1.5, `two days` 48), else an empty text."""
    value, unit = _quantity(words, HOURS)
    return "" if not value else f"{value * HOURS[unit]:.4g}"


def _quantity(words: Sequence[str], units: Container[str]) -> tuple[float | None, str]:
    said = [word.casefold() for word in words]
    place = next((k for k, word in enumerate(said) if word in units), None)
    if place is None or (place == 0 and said[0] in NEED_A_NUMBER):
        return None, ""
    before, after = said[:place], said[place + 1 :]
    if before and before[0] in ("a", "an") and said[place] in SHORT_FORMS:
        return None, ""
    value = _number(before)
    if value is not None and after:
        more = _part(after[1:]) if after[0] == "and" and len(after) > 1 else None
        value = None if more is None or value != int(value) else value + more
    return value, said[place]


def _number(words: Sequence[str]) -> float | None:
    """Return what stands before a unit: nothing (`inch`), 2, 1 1/2, two, a quarter of an, one and a half."""
    if not words:
        return 1.0
    if len(words) > 1 and words[-1] in ("a", "an"):
        return _part(words[:-2] if words[-2] == "of" else words[:-1])
    if words[-1] == "of":
        return _part(words[:-1])
    if "and" in words:
        place = list(words).index("and")
        whole, more = _whole(words[:place]), _part(words[place + 1 :])
        return None if whole is None or more is None else whole + more
    if len(words) == 2 and (whole := _whole(words[:1])) is not None and FRACTION.fullmatch(words[1]):
        more = _part(words[1:])
        return None if more is None else whole + more
    return _whole(words) if _whole(words) is not None else _part(words)


def _whole(words: Sequence[str]) -> float | None:
    if len(words) != 1:
        return None
    return float(words[0]) if DIGITS.fullmatch(words[0]) else NUMBERS.get(words[0])


def _part(words: Sequence[str]) -> float | None:
    """Return a part of one: half, a half, three quarters, 3/4."""
    if len(words) == 1 and (found := FRACTION.fullmatch(words[0])):
        return int(found[1]) / int(found[2]) if 0 < int(found[1]) < int(found[2]) else None
    if not words or words[-1] not in PARTS or len(words) > 2:
        return None
    times = 1.0 if len(words) == 1 else NUMBERS.get(words[0])
    part = None if times is None else times * PARTS[words[-1]]
    return part if part is not None and part < 1 else None
