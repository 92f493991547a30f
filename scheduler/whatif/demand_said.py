"""A demand as people say it: `can we finish planting by friday`, `heron and far west planted by sat noon`, `all corn planted by may 20`.

Question answered: *which pass of which fields is meant?* Tried only where the words as they stand make no demand; every word must
mean something.
"""

from __future__ import annotations

import re

from scheduler.events import speech as w
from scheduler.events.phrases import Found, sort_words
from scheduler.events.situation import FieldPass, Situation
from shared.errors import ReportRefused

ASKED = re.compile(
    r"^(can|could|will) (we|i|they|you) |^(is|are) |^(we|i) (want|need) to |[?.!]+$", re.IGNORECASE
)
BESIDE = ("and", "&", "get", "have", "be", "work", "fields", "every", "field")
"""Words that say nothing of which work is meant."""


def plain_question(text: str) -> str:
    """Return a demand without the words that make a question of it."""
    before = ""
    while text != before:
        before, text = text, ASKED.sub("", text.strip())
    return text


def said_keys(head: str, situation: Situation) -> list[FieldPass] | None:
    """Return the work that words before `by` mean; None where one of them means nothing here, or no pass is named.

    Raises
    ------
    ReportRefused
        A field or a pass that is named can be several.
    """
    farm = situation.farm
    found = [one for one in sort_words([head.replace(",", " ")], farm) if one.words.casefold() not in BESIDE]
    fields, passes, crops = _of(found, w.FIELD), _of(found, w.PASS), _of(found, w.CROP)
    others = [one for one in found if not {w.FIELD, w.PASS, w.CROP, w.IDLE, w.VERB, w.FROM} & set(one.can_be)]
    verbs = {value for one in found if w.PASS not in one.can_be for value in one.can_be.get(w.VERB, ())}
    if others or len(passes) != 1 or verbs - {"done"}:
        return None
    wide = next((one for one in fields if len(one.can_be[w.FIELD]) > 1), None)
    if wide is not None:
        raise ReportRefused(f"{wide.words!r} can be {' or '.join(wide.can_be[w.FIELD])}; say which.")
    named = [one.can_be[w.FIELD][0] for one in fields]
    grown = {value for one in crops for value in one.can_be[w.CROP]} | _crops_in(passes[0].words)
    ids = passes[0].can_be[w.PASS]
    keys = [
        key
        for key, state in situation.passes.items()
        if key[1] in ids
        and not state.cancelled
        and (key[0] in named or not named)
        and (not grown or farm.field_by_id[key[0]].crop.value in grown)
    ]
    return _told_apart(
        [key for key in keys if named or situation.left_ha(*key) > 0], named, passes[0], situation
    )


def _crops_in(words: str) -> set[str]:
    """Return the crops in the name of a pass: `plant corn` is a pass of corn, though other crops have one of its id."""
    known = [w.PHRASES.get(word, ("", "")) for word in words.casefold().split()]
    return {value for kind, value in known if kind == w.CROP}


def _told_apart(
    keys: list[FieldPass], named: list[str], said: Found, situation: Situation
) -> list[FieldPass] | None:
    """Return one pass for each field: of several of a name the one that is not over, or whose turn it is; None where there is none."""
    out = []
    for field in dict.fromkeys([*named, *(key[0] for key in keys)]):
        own = [key for key in keys if key[0] == field]
        still = [key for key in own if situation.left_ha(*key) > 0] or own
        still = still if len(still) == 1 else [key for key in still if situation.is_due(*key)] or still
        if not still:
            return None
        if len(still) > 1:
            names = " or ".join(f"{situation.farm.pass_label(key[1])} ({key[1]})" for key in still)
            raise ReportRefused(
                f"{said.words!r} in {situation.farm.field_label(field)} can be {names}; say which."
            )
        out.append(still[0])
    return out or None


def _of(found: list[Found], kind: str) -> list[Found]:
    return [one for one in found if kind in one.can_be]
