"""News of work in a sentence: what was done, begun, stopped, has to be done again: `planted 60 of 118 ac in kiln`.

Question answered: *which pass of which field, and how much of it?*
"""

from __future__ import annotations

from datetime import date

from scheduler.events import speech as w
from scheduler.events.lookups import quantity_of
from scheduler.events.sentence_left import NotClear, Sentence, Strict
from scheduler.events.sentence_times import When, ended, past
from scheduler.farm.product import Form
from shared.vocabulary import Operation

NEAR_SHARE = 0.05
"""An area that is told may differ by so much from the known one."""


def done(s: Sentence) -> Strict:
    """Read what was done: of a pass all, or an area."""
    field, who, at = s.must(w.FIELD), who_of(s), ended(s)
    pass_id = s.pass_at_hand(field, who.get("operator"), _day(at))
    s.crop_of(field)
    _applied(s, field, pass_id)
    area = _area(s, field, pass_id)
    if not area and "since" in at and s.situation is not None:
        # How long all of it took is told of an area only.
        area = [f"{s.situation.left_ha(field, pass_id)} ha"]
    return ["", field, pass_id, *area], at | who


def _applied(s: Sentence, field: str, pass_id: str) -> None:
    """Use up the words for what was applied, which has to be what the pass applies there: `banded kiln with n32`."""
    spec = s.farm.spec(field, pass_id)
    while spec is not None and any(w.PRODUCT in one.can_be for one in s.left):
        named = next(one for one in s.left if w.PRODUCT in one.can_be)
        if not set(named.can_be[w.PRODUCT]) & set(spec.contents):
            usual = " and ".join(s.farm.product_by_id[name].label for name in spec.contents) or "nothing"
            seeds = any(s.farm.product_by_id[name].form is Form.SEED for name in named.can_be[w.PRODUCT])
            hint = (
                f"; if it was, say first: {field} gets {named.words}"
                if seeds and Operation.PLANT in spec.operations
                else ""
            )
            raise NotClear(
                f"{spec.label} in {s.farm.field_label(field)} takes {usual}, not {named.words}{hint}"
            )
        s.left.remove(named)


def _area(s: Sentence, field: str, pass_id: str) -> list[str]:
    """Return how much was done, of which none is said where it is all: 40 ac, 60 of 118 ac, half, 40 ac left."""
    if (said := s.take(w.SHARE)) is not None:
        return [_share_of(s, said, field, pass_id)]
    area, half, whole = s.take(w.AMOUNT), s.take(w.HALF), s.farm.field_by_id[field].area_ha
    if half is not None and area is None:
        area = f"{whole / 2:.4f} ha"
    if s.take(w.LEFT) is None:
        return [area] if area else []
    if area is None or s.situation is None:
        raise NotClear("how much is left is not said")
    done = s.situation.left_ha(field, pass_id) - quantity_of(area, "area_ha", "area")
    if done <= 0:
        raise NotClear(f"no more than {area} was to do before")
    return [f"{done:.4f} ha"]


def _share_of(s: Sentence, said: str, field: str, pass_id: str) -> str:
    """Return the part of `60 of 118 ac` with its unit; the whole has to be what is known of the field, or left of it."""
    part, _, whole = said.partition(" of ")
    ground = s.farm.field_by_id[field]
    told, unit = quantity_of(whole, "area_ha", "area"), whole.split()[-1]
    left = ground.area_ha if s.situation is None else s.situation.left_ha(field, pass_id)
    known = [one for one in (ground.area_ha, left) if abs(told - one) <= NEAR_SHARE * one]
    if not known or quantity_of(f"{part} {unit}", "area_ha", "area") > told:
        raise NotClear(f"{said} does not fit what is known of {ground.label}")
    if left not in known:
        raise NotClear(f"whether {part} {unit} is all that is done there or what was done now is not said")
    return f"{part} {unit}"


def begun(s: Sentence) -> Strict:
    """Read which work began, or stopped."""
    field, who, at = s.must(w.FIELD), who_of(s), past(s)
    pass_id = s.pass_at_hand(field, who.get("operator"), _day(at))
    s.crop_of(field)
    return ["", field, pass_id], at | who


def paused(s: Sentence) -> Strict:
    """Read that work stopped; where it is said at how much of the field, it is that much that was done."""
    area = s.take(w.AMOUNT)
    words, options = begun(s)
    if area is None:
        return words, options
    if s.situation is None or s.situation.passes[words[1], words[2]].done_ha > 0:
        raise NotClear(f"whether {area} is all that is done there or what was done now is not said")
    return ["done", *words[1:], area], options


def replant(s: Sentence) -> Strict:
    """Read that a field has to be planted once more."""
    field = s.must(w.FIELD)
    s.crop_of(field)
    passes = [
        one
        for one in s.farm.programme_of(s.farm.field_by_id[field]).passes
        if Operation.PLANT in one.operations
    ]
    if len(passes) != 1:
        raise NotClear(f"which pass plants {s.farm.field_by_id[field].label} is not clear")
    if s.situation is not None and s.situation.passes[field, passes[0].id].done_ha <= 0:
        raise NotClear(f"{s.farm.field_by_id[field].label} has not been planted yet")
    return ["again", field, passes[0].id, f"re{passes[0].id}"], {}


def _day(at: When) -> date | None:
    """Return the day that something happened on; none for today."""
    moment = at.get("at")
    return date.fromisoformat(moment[:10]) if moment else None


def who_of(s: Sentence) -> dict[str, str | None]:
    """Use up the word for who did it; nothing where nobody is named."""
    name = s.take(w.OPERATOR)
    return {} if name is None else {"operator": name}
