"""Rain in a sentence: `rained 0.4 in at heron`, `half an inch overnight`, `0.3 at kiln`, `no rain`.

Question answered: *how much fell where, and is a bare number rain at all?*
"""

from __future__ import annotations

from scheduler.events import speech as w
from scheduler.events.phrases import Found
from scheduler.events.sentence_left import Sentence, Strict
from scheduler.events.sentence_times import night, past

DEPTHS = ("in", "inch", "inches", "mm")
BESIDE = {w.IDLE, w.FIELD, w.DAY, w.CLOCK, w.HOUR, w.PART, w.NIGHT, w.FROM}
"""What may stand beside a bare amount that is rain."""


def rain(s: Sentence) -> Strict:
    """Read how much fell, on a field or on the whole farm."""
    number = next((one for one in s.left if _bare(s, one)), None)
    if number is not None and not any(w.AMOUNT in one.can_be for one in s.left):
        s.left.remove(number)
        amount = f"{number.words} {'in' if s.farm.units == 'us' else 'mm'}"
    else:
        amount = s.must(w.AMOUNT)
    field = s.take(w.FIELD)
    return ["rain", *([field] if field else []), amount], past(s) | night(s)


def no_rain(s: Sentence) -> Strict:
    """Read that none fell."""
    field = s.take(w.FIELD)
    return ["rain", *([field] if field else []), "0 mm"], past(s) | night(s)


def is_rain(s: Sentence) -> bool:
    """Return whether a sentence that names no kind of news can only tell of rain: an amount, and perhaps where and when.

    Inches of a field may also be the height of what grows there; a decimal without its unit is neither.
    """
    amounts = [one for one in s.left if _bare(s, one) or w.AMOUNT in one.can_be]
    others = [one for one in s.left if one not in amounts]
    if len(amounts) != 1 or not all(BESIDE & set(one.can_be) for one in others):
        return False
    (amount,) = amounts
    if w.AMOUNT not in amount.can_be:
        return True
    fields = [name for one in others for name in one.can_be.get(w.FIELD, ())]
    depth = amount.can_be[w.AMOUNT][0].split()[-1].casefold() in DEPTHS
    return depth and (not fields or (s.situation is not None and not set(fields) & set(s.situation.planted)))


def _bare(s: Sentence, one: Found) -> bool:
    """Return whether a number without its unit is rain as people of this farm say it: of inches a decimal, of millimetres any."""
    return w.NUMBER in one.can_be and (s.farm.units != "us" or "." in one.words)
