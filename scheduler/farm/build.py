"""From what the files say to a checked `Farm`: every fault at once, each as a sentence with file, key, value, allowed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from difflib import get_close_matches
from typing import Any, Protocol

from pydantic import BaseModel, ValidationError

from scheduler.farm.crosscheck import cross_check
from scheduler.farm.farm import Farm
from scheduler.farm.quantities import WRITTEN
from shared.errors import FarmFileError, Fault


class Written(Protocol):
    """The farm as written, with the way back to file and key."""

    @property
    def values(self) -> dict[str, Any]:
        """File keys and values."""
        ...

    def where(self, location: tuple[Any, ...]) -> tuple[str, str]:
        """Return file and key path of a location."""
        ...


def build_farm(written: Written, today: date | None = None) -> tuple[Farm, list[Fault]]:
    """Build the farm and cross-check it as a whole.

    Parameters
    ----------
    written : Written
        Values by file keys.
    today : date, optional
        Local day; with it, windows that are over and licences that have expired are said.

    Returns
    -------
    Farm, list of Fault
        The farm, and warnings with which planning can go on.

    Raises
    ------
    FarmFileError
        All faults at once.
    """
    try:
        farm = Farm.model_validate(written.values, context=WRITTEN)
    except ValidationError as error:
        faults = [_fault(item, written) for item in error.errors() if not _follows(item, written)]
        spoilt = {str(item["loc"][0]) for item in error.errors() if item["loc"]}
        raise FarmFileError([*faults, *_partial_checks(written, spoilt, today)]) from error
    found = [located(fault, written) for fault in cross_check(farm, today)]
    if any(not fault.warning for fault in found):
        raise FarmFileError(found)
    return farm, found


def _follows(item: Mapping[str, Any], written: Written) -> bool:
    """Return whether a fault only says that faulty rows were left out of their list."""
    listed = written.values.get(str(item["loc"][0])) if item["loc"] else None
    return item["type"] == "too_short" and len(item["loc"]) == 1 and bool(listed)


STAND_INS: dict[str, Any] = {
    "name": "-", "time_zone": "UTC", "latitude": 0.0, "longitude": 0.0, "price": {"corn": 1.0, "soybean": 1.0},
}  # fmt: skip
"""What stands in for a spoilt or missing setting while the rest is cross-checked; nothing is checked against these."""


def _partial_checks(written: Written, spoilt: set[str], today: date | None) -> list[Fault]:
    """Cross-check what is sound when some records are not, so that one run names everything."""
    sound: dict[str, Any] = {}
    kept: dict[str, list[int]] = {}
    if any(_element_model(key) and not isinstance(value, list) for key, value in written.values.items()):
        return []
    for key, value in written.values.items():
        model = _element_model(key)
        if model is not None and isinstance(value, list):
            kept[key] = [number for number, row in enumerate(value) if _is_sound(model, row)]
            sound[key] = [value[number] for number in kept[key]]
        elif key not in spoilt:
            sound[key] = value
    if "price" in spoilt:
        sound["price"] = dict(STAND_INS["price"])
    try:
        farm = Farm.model_validate(STAND_INS | sound)
    except ValidationError:
        return []
    dropped = _ids(written.values) - _ids(sound)
    return [
        located(_put_back(fault, kept), written)
        for fault in cross_check(farm, today, whole=False)
        if fault.value not in dropped and not fault.warning
    ]


def _put_back(fault: Fault, kept: Mapping[str, list[int]]) -> Fault:
    """Count the row of a fault as in the file, where spoilt rows stand between."""
    name, _, rest = fault.key.partition(".")
    number, dot, tail = rest.partition(".")
    if name in kept and number.isdigit():
        rest = f"{kept[name][int(number)]}{dot}{tail}"
    return replace(fault, key=f"{name}.{rest}" if rest else name)


def _ids(values: Mapping[str, Any]) -> set[str]:
    lists = (value for value in values.values() if isinstance(value, list))
    return {str(row.get("id", "")) for rows in lists for row in rows if isinstance(row, dict)}


def _element_model(key: str) -> type[BaseModel] | None:
    for name, info in Farm.model_fields.items():
        if key in (name, info.alias):
            inner = getattr(info.annotation, "__args__", (None,))[0]
            return inner if isinstance(inner, type) and issubclass(inner, BaseModel) else None
    return None


def _is_sound(model: type[BaseModel], row: Any) -> bool:
    try:
        model.model_validate(row, context=WRITTEN)
    except ValidationError:
        return False
    return True


def located(fault: Fault, written: Written) -> Fault:
    """Turn a check's location (``file`` empty, key a dotted path of the model) into file and key path."""
    parts = tuple(int(part) if part.isdigit() else part for part in fault.key.split("."))
    file, key = written.where(parts)
    return Fault(file, key, fault.value, fault.problem, fault.allowed, fault.warning)


def _fault(item: Mapping[str, Any], written: Written) -> Fault:
    """Turn a pydantic error into a fault."""
    location = tuple(part for part in item["loc"] if not str(part).startswith("function-"))
    file, key = written.where(location)
    kind, value = item["type"], item.get("input")
    shown = "" if isinstance(value, dict | list) or value is None else str(value)
    context = item.get("ctx") or {}
    if kind == "farm_fault":
        return Fault(file, key, shown, context["problem"], context["allowed"])
    if kind == "missing":
        return Fault(file, key, "", "is missing", f"a value for {location[-1]}")
    if kind == "extra_forbidden":
        known = _known_keys(location[:-1])
        near = get_close_matches(str(location[-1]), known, n=1, cutoff=0.6)
        hint = f"did you mean {near[0]!r}? " if near else ""
        return Fault(file, key, "", "is not a known key", f"{hint}known keys: {', '.join(known)}")
    if kind == "enum":
        return Fault(file, key, shown, *_enum_problem(shown, str(context.get("expected", ""))))
    return Fault(file, key, shown, _plain(kind, item["msg"]), _allowed(kind, context))


def problem_of(item: Mapping[str, Any]) -> tuple[str, str]:
    """Return what is wrong with a value and what is allowed, in words, from an error of pydantic."""
    context = item.get("ctx") or {}
    if item["type"] == "farm_fault":
        return context["problem"], context["allowed"]
    if item["type"] == "enum":
        return _enum_problem(str(item.get("input")), str(context.get("expected", "")))
    return _plain(item["type"], item["msg"]), _allowed(item["type"], context) or "another value"


def _enum_problem(shown: str, expected: str) -> tuple[str, str]:
    options = [part.strip(" '") for part in expected.replace(" or ", ", ").split(",")]
    near = get_close_matches(shown, options, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}? one of: " if near else "one of: "
    return "is not known", hint + ", ".join(options)


_PLAIN = {
    "greater_than": "is too small",
    "greater_than_equal": "is too small",
    "less_than": "is too large",
    "less_than_equal": "is too large",
    "float_parsing": "is not a number",
    "int_parsing": "is not a whole number",
    "bool_parsing": "is neither yes nor no",
    "string_type": "is not text",
    "string_pattern_mismatch": "is not written as it should be",
    "too_short": "has too few entries",
}


def _plain(kind: str, message: str) -> str:
    return _PLAIN.get(kind, message[:1].lower() + message[1:].rstrip("."))


def _allowed(kind: str, context: Mapping[str, Any]) -> str:
    words = {
        "gt": "more than",
        "ge": "at least",
        "lt": "less than",
        "le": "at most",
        "min_length": "at least",
    }
    parts = [f"{text} {context[key]}" for key, text in words.items() if key in context]
    if "pattern" in context:
        options = str(context["pattern"]).strip("^$()[]")
        parts.append("one of: " + ", ".join(options.split("|") if "|" in options else list(options)))
    if kind in ("float_parsing", "int_parsing"):
        parts.append("a number")
    if kind == "bool_parsing":
        parts.append("true or false (yes or no in tables)")
    return " and ".join(parts)


def _known_keys(location: tuple[Any, ...]) -> list[str]:
    """Return the file keys that the record at a location takes."""
    model: type[BaseModel] = Farm
    for part in location:
        if isinstance(part, int):
            continue
        for name, info in model.model_fields.items():
            if part in (name, info.alias):
                found = _model_in(info.annotation)
                if found is None:
                    return []
                model = found
                break
    return sorted(info.alias or name for name, info in model.model_fields.items())


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_in(inner)
        if found is not None:
            return found
    return None
