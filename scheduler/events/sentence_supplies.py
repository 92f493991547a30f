"""News of products in a sentence: what came, what comes later, what is there: `n32 comes friday instead of wednesday`.

Question answered: *how much of what, and which of the deliveries that are waited for?*
"""

from __future__ import annotations

from datetime import date, timedelta

from scheduler.events import speech as w
from scheduler.events.report import day_ahead, day_behind
from scheduler.events.sentence_left import NotClear, Sentence, Strict
from scheduler.events.sentence_times import past, time_after, when
from scheduler.farm.product import BASE_UNIT, Form

NEAR = timedelta(days=3)
"""A delivery that came without its amount said was to come by this many days from now (assumption)."""
Coming = tuple[date, float, str]


def delivered(s: Sentence) -> Strict:
    """Read what came; where no amount is said, that of the delivery that was waited for."""
    product, amount, named = s.must(w.PRODUCT), s.take(w.AMOUNT), s.take(w.DELIVERY)
    s.take(w.MACHINE)  # What brought it: `the truck dropped off 5000 gal`.
    if amount is None:
        _, number, named = _due(s, product, named)
        amount = f"{number:.6f} {BASE_UNIT[s.farm.product_by_id[product].form]}"
    return ["", product, amount, *([named] if named else [])], past(s)


def counted(s: Sentence) -> Strict:
    """Read what is there: `20 bags of seed corn left`, `out of seed corn`."""
    gone, left = s.take(w.NONE), s.take(w.LEFT)
    product, amount = s.must(w.PRODUCT), s.take(w.AMOUNT)
    if amount is None and gone is None:
        raise NotClear(f"how much is {'left' if left is not None else 'there'} is not said")
    return ["counted", product, amount or "0"], past(s)


def other_seed(s: Sentence) -> Strict:
    """Read which seed a field gets: `alder bottom gets hybrid 99`, `plant hybrid 99 in alder bottom instead`."""
    field, product = s.must(w.FIELD), s.must(w.PRODUCT)
    if s.farm.product_by_id[product].form is not Form.SEED:
        raise NotClear(f"{s.farm.product_by_id[product].label} is no seed")
    s.take(w.VERB)
    if any(w.PASS in one.can_be for one in s.left):
        s.pass_in(field)
    s.crop_of(field)
    return ["change", "field", field, "seed", product], {}


def late(s: Sentence) -> Strict:
    """Read a delivery's new day; which one it is stands in its id, its old day, or in there being no other."""
    named = s.take(w.DELIVERY)
    product = s.take(w.PRODUCT) or _product_of(s, named) or s.must(w.PRODUCT)
    _, old = time_after(s, w.INSTEAD)
    day = time_after(s, w.UNTIL)[1].day or when(s)[1].day
    if day is None:
        raise NotClear("the new day of the delivery is not said")
    coming = _coming(s, product)
    if named is None and old.day is not None:
        today = s.now.date()
        days = (day_ahead(old.day, today), day_behind(old.day, today))
        coming = [one for one in coming if one[0] in days]
    if named is None and len(coming) != 1:
        known = ", ".join(f"{name} of {day:%a %d %b}" for day, _, name in _coming(s, product))
        raise NotClear(f"which delivery it is has to be said ({known or 'none is known'})")
    return ["late", product, named or coming[0][2], day], {}


def _coming(s: Sentence, product: str) -> list[Coming]:
    """Return the deliveries that are still to come, the next first."""
    if s.situation is not None:
        supply = s.situation.supplies.get(product)
        return list(supply.deliveries) if supply is not None else []
    known = s.farm.product_by_id[product]
    return [(one.date, known.amount(one.amount), one.id) for one in known.deliveries if one.id]


def _product_of(s: Sentence, delivery: str | None) -> str | None:
    """Return the product of a delivery that is named; None where none or several have one of that name."""
    of = [one.id for one in s.farm.products if any(delivery == known.id for known in one.deliveries)]
    return of[0] if delivery and len(of) == 1 else None


def _due(s: Sentence, product: str, named: str | None) -> Coming:
    """Return the delivery that is meant where none of its amount is said: the one named, else the only one that is due."""
    coming = [one for one in _coming(s, product) if named in (None, one[2])]
    due = [one for one in coming if one[0] <= s.now.date() + NEAR] or coming
    if len(due) != 1:
        raise NotClear("how much came is not said")
    return due[0]
