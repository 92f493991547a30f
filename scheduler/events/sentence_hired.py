"""A machine that comes for a time, in a sentence: `hired a second sprayer from friday until sunday`, `neighbour lends us a planter`.

Question answered: *which machine is it like, what is it called, from when to when is it there?*
"""

from __future__ import annotations

from scheduler.events import speech as w
from scheduler.events.lookups import new_id
from scheduler.events.sentence_left import NotClear, Sentence, Strict
from scheduler.events.sentence_times import span

NUMBERS = ("Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth")


def hired(s: Sentence) -> Strict:
    """Read which machine of the farm another one like it joins; it is called the second one, the third one."""
    like = s.must(w.MACHINE)
    label, taken = s.farm.machine_by_id[like].label, {*s.farm.machine_by_id, *s.farm.operator_by_id}
    name = next((f"{one} {label}" for one in NUMBERS if new_id(f"{one} {label}") not in taken), None)
    if name is None:
        raise NotClear("the new one has no name of its own")
    return ["hire", name, "like", like], span(s, of_person=False)
