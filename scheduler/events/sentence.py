"""News as people say it -> the words of a report: `planted far west 40 ac`, `planter broke`, `oskari off fri`.

Tried only where the words as they stand make no report, and only where every word of the sentence is understood and used:
what is not wholly clear is asked for, never guessed. What came of it is told back in full, with how to correct it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from scheduler.events import phrases as p
from scheduler.events import speech as w
from scheduler.events.planned import Planned, nothing_planned
from scheduler.events.report import day_ahead
from scheduler.events.sentence_hired import hired
from scheduler.events.sentence_hours import hours
from scheduler.events.sentence_left import NotClear, Sentence, Strict
from scheduler.events.sentence_rain import is_rain, no_rain, rain
from scheduler.events.sentence_supplies import counted, delivered, late, other_seed
from scheduler.events.sentence_times import coming_back, leaving, past, span, when
from scheduler.events.sentence_work import begun, done, paused, replant, who_of
from scheduler.events.situation import Situation
from scheduler.farm.farm import Farm
from shared.vocabulary import Fitness

GONE = ("down", "away")
IMPLIED = (
    (w.WORKED, "done"), (w.VERDICT, "ground"), (w.STAGE, "stage"), (w.NIGHT, "rain"), (w.LEFT, "done"),
)  # fmt: skip
WITH_REASON = ("paused", "cancel", "down", "away", "leaves")
BECAUSE = re.compile(r"[,;]?\s(because of|because|due to)\s", re.IGNORECASE)
TOLD = {w.VERB, w.WORKED, w.VERDICT, w.STAGE}
OF_WHAT = {w.FIELD, w.MACHINE, w.OPERATOR, w.PRODUCT, w.AMOUNT}
Options = Mapping[str, str | None]


def strict_words(
    words: Sequence[str],
    options: Options,
    farm: Farm,
    now: datetime,
    situation: Situation | None = None,
    planned: Planned = nothing_planned,
) -> Strict:
    """Return the words and options of a report that say the same.

    Parameters
    ----------
    now : datetime
        Farm-local.
    situation : Situation, optional
        How far the work is; of two passes with one name that whose turn it is can then be meant.
    planned : callable
        What people were to do; which pass it is may then be left out.

    Raises
    ------
    NotClear
        Not every word is understood, or something is missing.
    """
    if not all(word.strip() for word in words):
        raise NotClear("an empty word is no speech")
    if any("?" in word for word in words):
        raise NotClear("a question is no news")
    words, why = _reason(words, farm)
    sentence = Sentence(p.sort_words(words, farm), farm, now, situation, planned)
    verb = ""
    try:
        unknown = [one.words for one in sentence.left if not one.can_be]
        if unknown:
            verb = next(iter(_verbs(sentence)), "") or _implied(sentence)
            raise NotClear(f"{unknown[0]!r} is not known", *unknown)
        many = next((one for one in sentence.left if set(one.can_be) == {w.MANY}), None)
        if many is not None:
            verb = next(iter(_verbs(sentence)), "") or _implied(sentence)
            raise NotClear(
                f"{many.words!r} stands in the names of {many.can_be[w.MANY][0]}; say which is meant"
            )
        sentence.left = [one for one in sentence.left if set(one.can_be) != {w.IDLE}]
        verb = _verb(sentence)
        said, more = READERS[verb](sentence)
        rest = next((one for one in sentence.left if w.IDLE not in one.can_be), None)
        if rest is not None:
            raise NotClear(f"{rest.words!r} is one thing too many")
        if why and verb not in WITH_REASON:
            raise NotClear("a reason is told of what stopped, is down, away or called off only")
    except NotClear as unclear:
        unclear.verb = verb
        raise
    more |= {"why": why} if why else {}
    more |= {key: value for key, value in options.items() if value}
    return [said[0] or verb, *said[1:]], more


def _reason(words: Sequence[str], farm: Farm) -> tuple[Sequence[str], str]:
    """Return the words before a `because`, and the reason behind it as it was said.

    Raises
    ------
    NotClear
        The reason seems to be a piece of news itself, which must not be lost in it.
    """
    said = " ".join(words)
    before, mark, why = BECAUSE.split(said, maxsplit=1) if BECAUSE.search(said) else (said, "", "")
    if not mark or not before.strip():
        return words, ""
    kinds = {kind for one in p.sort_words([why], farm) for kind in one.can_be}
    if kinds & TOLD and kinds & OF_WHAT:
        raise NotClear(f"the reason {why!r} is news of its own; say it in a sentence of its own")
    return before.split(), why.strip(" .")


def _verbs(sentence: Sentence) -> dict[str, p.Found]:
    """Return the kinds of news that are named; words that may be idle count only where there are no others."""
    found = [(value, one) for one in sentence.left for value in one.can_be.get(w.VERB, ())]
    sure = [(value, one) for value, one in found if w.IDLE not in one.can_be]
    return dict(sure or found)


def _verb(sentence: Sentence) -> str:
    """Return the kind of news: the word for it, else what its other words can only be about."""
    named = _verbs(sentence)
    if "back" in named and len(named) == 2 and next(iter(named)) in GONE:
        _as_until(sentence, named.pop("back"))
    lab = next((one for one in sentence.left if w.LAB in one.can_be), None)
    if lab is not None and not named:
        sentence.left.remove(lab)
        return "tissue"
    if len(named) > 1:
        raise NotClear(f"{' and '.join(sorted(named))} are two pieces of news")
    for verb, one in named.items():
        sentence.left.remove(one)
        return verb
    if implied := _implied(sentence):
        return implied
    raise NotClear("no kind of news is named")


def _implied(sentence: Sentence) -> str:
    """Return the kind of news that words can only be about where none is named; else nothing."""
    there = {kind for one in sentence.left for kind in one.can_be}
    if w.NONE in there or (w.LEFT in there and w.PRODUCT in there and w.FIELD not in there):
        return "counted"
    return next((verb for kind, verb in IMPLIED if kind in there), "rain" if is_rain(sentence) else "")


def _as_until(sentence: Sentence, back: p.Found) -> None:
    """Read `planter broke, back fri` as until: what is back then is gone until then."""
    place = sentence.left.index(back)
    rest = sentence.left[place + 1 :]
    until = [] if rest and w.LONG in rest[0].can_be else [p.Found(back.words, {w.UNTIL: ("until",)})]
    sentence.left[place : place + 1] = until


def _cancel(s: Sentence) -> Strict:
    field = s.must(w.FIELD)
    return ["", field, s.pass_in(field)], {}


def _gone(s: Sentence) -> Strict:
    machine = s.take(w.MACHINE)
    if machine is not None:
        return ["down", machine], span(s, of_person=False)
    return ["away", s.must(w.OPERATOR)], span(s, of_person=True)


def _leaves(s: Sentence) -> Strict:
    return ["away", s.must(w.OPERATOR)], leaving(s)


def _back(s: Sentence) -> Strict:
    """Read that something is back, or until when it is not: `oskari back fri`."""
    machine = s.take(w.MACHINE)
    name = machine or s.must(w.OPERATOR)
    day, clock = coming_back(s)
    on = day or s.now.date()
    if on > s.now.date() or (clock and clock > f"{s.now:%H:%M}"):
        return ["down" if machine else "away", name], {"until": f"{on} {clock or '00:00'}"}
    return ["", name], {"at": f"{on} {clock}"} if clock else {}


def _tissue(s: Sentence) -> Strict:
    field, number = s.must(w.FIELD), s.take(w.NUMBER)
    return ["", field, f"{number} %" if number else s.must(w.AMOUNT)], past(s)


def _ground(s: Sentence) -> Strict:
    verdict = s.must(w.VERDICT)
    if verdict == Fitness.FIT.value and (machine := s.take(w.MACHINE)) is not None:
        return ["back", machine], {}
    field = s.must(w.FIELD)
    named = any(w.PASS in one.can_be for one in s.left)
    return ["", field, verdict, *([s.pass_in(field)] if named else [])], past(s)


def _stage(s: Sentence) -> Strict:
    field = s.must(w.FIELD)
    s.crop_of(field)
    return ["", field, s.must(w.STAGE)], past(s)


def _height(s: Sentence) -> Strict:
    field = s.must(w.FIELD)
    s.crop_of(field)
    return ["", field, s.must(w.AMOUNT)], past(s)


def _comes(s: Sentence) -> Strict:
    """Read when somebody comes to work, or a delivery."""
    return hours(s, late=True) if any(w.OPERATOR in one.can_be for one in s.left) else late(s)


def _pin(s: Sentence) -> Strict:
    field = s.must(w.FIELD)
    pass_id = s.pass_in(field)
    _, moment = when(s)
    day = s.now.date() if moment.day is None else day_ahead(moment.day, s.now.date())
    clock = moment.clock_on(day, s.now, ahead=True)
    if clock is None:
        raise NotClear("a pin needs its hour")
    return ["", field, pass_id], {"at": f"{day} {clock}"} | who_of(s)


READERS: dict[str, Callable[[Sentence], Strict]] = {
    "rain": rain, "done": done, "started": begun, "paused": paused, "cancel": _cancel, "down": _gone, "away": _gone, "back": _back,
    "leaves": _leaves, "no rain": no_rain, "tissue": _tissue,
    "ground": _ground, "stage": _stage, "height": _height, "delivered": delivered, "counted": counted, "late": _comes, "pin": _pin,
    "hours": hours, "hire": hired, "seed": other_seed, "replant": replant,
}  # fmt: skip
