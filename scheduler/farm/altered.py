"""One thing of the farm with some of its written keys changed: a wider planter, a longer shift, tile in a field.

Question answered: *what is the farm when these keys read otherwise?* The values are as people write them in the farm
files (``"60 ft"``), so that the same quantities, bounds and sentences hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from enum import StrEnum
from typing import Any, TypeVar

from pydantic import ValidationError

from scheduler.farm.build import problem_of
from scheduler.farm.crosscheck import cross_check
from scheduler.farm.farm import Farm
from scheduler.farm.quantities import WRITTEN, Record

R = TypeVar("R", bound=Record)


class Part(StrEnum):
    """What kind of thing is changed. A pass is named ``PROGRAMME/PASS``; the plan settings have no name."""

    MACHINE = "machine"
    OPERATOR = "operator"
    FIELD = "field"
    PRODUCT = "product"
    PASS = "pass"
    PLAN = "plan"


LISTS = {
    Part.MACHINE: "machines", Part.OPERATOR: "operators", Part.FIELD: "fields", Part.PRODUCT: "products",
}  # fmt: skip


class CannotChange(ValueError):
    """The change makes no sense for this farm; the message is one sentence for people."""


def with_change(farm: Farm, part: Part, name: str, values: Mapping[str, Any]) -> Farm:
    """Return the farm with keys of one thing changed.

    Parameters
    ----------
    name : str
        Id of the thing, or several with commas (machines that must keep one width change together);
        ``PROGRAMME/PASS`` for a pass, anything for the plan settings.
    values : mapping
        File keys and written values.

    Raises
    ------
    CannotChange
        Unknown thing or key, or a value that is not allowed.
    """
    if part is Part.PLAN:
        return farm.model_copy(update={"plan": _renewed(farm.plan, "plan", values)})
    if part is Part.PASS:
        return _with_pass(farm, name, values)
    kept = list(getattr(farm, LISTS[part]))
    for one_name in name.split(","):
        place = _place([one.id for one in kept], part, one_name)
        kept[place] = _renewed(kept[place], f"{part} {one_name}", values)
    return farm.model_copy(update={LISTS[part]: tuple(kept)})


def new_faults(before: Farm, after: Farm) -> list[str]:
    """Return what the cross-check of the farm finds after a change that it did not find before."""
    known = {(f.key, f.value, f.problem) for f in cross_check(before) if not f.warning}
    return [
        f"{fault.key}{f' {fault.value}' if fault.value else ''} {fault.problem}; allowed: {fault.allowed}."
        for fault in cross_check(after)
        if not fault.warning and (fault.key, fault.value, fault.problem) not in known
    ]


def known_keys(record: Record) -> list[str]:
    """Return the keys that the files know of a record, its id left out."""
    return sorted(info.alias or name for name, info in type(record).model_fields.items() if name != "id")


def _with_pass(farm: Farm, name: str, values: Mapping[str, Any]) -> Farm:
    programme_id, _, pass_id = name.partition("/")
    programmes = list(farm.programmes)
    place = _place([one.id for one in programmes], "programme", programme_id)
    passes = list(programmes[place].passes)
    inner = _place([one.id for one in passes], f"pass of {programme_id}", pass_id)
    passes[inner] = _renewed(passes[inner], f"pass {name}", values)
    programmes[place] = programmes[place].model_copy(update={"passes": tuple(passes)})
    return farm.model_copy(update={"programmes": tuple(programmes)})


def _place(ids: list[str], what: str, name: str) -> int:
    if name in ids:
        return ids.index(name)
    near = get_close_matches(name, ids, n=1, cutoff=0.5)
    hint = f"did you mean {near[0]!r}? " if near else ""
    raise CannotChange(f"the {what} {name!r} is not known; {hint}known: {', '.join(ids) or '(none)'}")


def _renewed(record: R, shown: str, values: Mapping[str, Any]) -> R:
    model = type(record)
    names = {info.alias or name: name for name, info in model.model_fields.items()}
    for key in values:
        if key not in names or key == "id":
            near = get_close_matches(key, known_keys(record), n=1, cutoff=0.6)
            hint = f"did you mean {near[0]!r}? " if near else ""
            raise CannotChange(
                f"{shown}: {key} is not a known key; {hint}known keys: {', '.join(known_keys(record))}"
            )
    try:
        # Written values first, alone, so that a bare number without its unit is refused as it is in the files.
        model.model_validate(dict(values), context=WRITTEN)
    except ValidationError as error:
        for item in error.errors():
            if item["type"] != "missing" and item["loc"] and str(item["loc"][0]) in values:
                problem, allowed = problem_of(item)
                raise CannotChange(
                    f"{shown}: {item['loc'][0]} {values[str(item['loc'][0])]!r} {problem}; allowed: {allowed}"
                ) from error
    raw = record.model_dump() | {names[key]: value for key, value in values.items()}
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        problem, allowed = problem_of(error.errors()[0])
        raise CannotChange(f"{shown}: {error.errors()[0]['loc'][0]} {problem}; allowed: {allowed}") from error
