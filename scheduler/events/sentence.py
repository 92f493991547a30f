"""News as people say it -> the words of a report: `planted far west 40 ac`, `planter broke`, `oskari off fri`.

Tried only where the words as they stand make no report, and only where every word of the sentence is understood and used:
what is not wholly clear is asked for, never guessed. What came of it is told back in full, with how to correct it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

from scheduler.events import phrases as p
from scheduler.events.report import day_ahead, day_behind
from scheduler.events.sentence_left import NotClear, Sentence
from scheduler.farm.farm import Farm

EVENING = "18:00"
"""When work of a day that is named without an hour is taken to have been done."""
Options = Mapping[str, str | None]
Strict = tuple[list[str], dict[str, str | None]]


def strict_words(words: Sequence[str], options: Options, farm: Farm, now: datetime) -> Strict:
    """Return the words and options of a report that say the same.

    Parameters
    ----------
    now : datetime
        Farm-local.

    Raises
    ------
    NotClear
        Not every word is understood, or something is missing.
    """
    if not all(word.strip() for word in words):
        raise NotClear("an empty word is no speech")
    if any("?" in word for word in words):
        raise NotClear("a question is no news")
    sentence = Sentence(p.sort_words(words, farm), farm, now)
    verb = ""
    try:
        unknown = next((one for one in sentence.left if not one.can_be), None)
        if unknown is not None:
            verb = next(iter(_verbs(sentence)), "")
            raise NotClear(f"{unknown.words!r} is not known", unknown.words)
        sentence.left = [one for one in sentence.left if set(one.can_be) != {p.IDLE}]
        verb = _verb(sentence)
        said, more = READERS[verb](sentence)
        rest = next((one for one in sentence.left if p.IDLE not in one.can_be), None)
        if rest is not None:
            raise NotClear(f"{rest.words!r} is one thing too many")
    except NotClear as unclear:
        unclear.verb = verb
        raise
    more |= {key: value for key, value in options.items() if value}
    return [said[0] or verb, *said[1:]], more


def _verbs(sentence: Sentence) -> dict[str, p.Found]:
    """Return the kinds of news that are named; words that may be idle count only where there are no others."""
    found = [(value, one) for one in sentence.left for value in one.can_be.get(p.VERB, ())]
    sure = [(value, one) for value, one in found if p.IDLE not in one.can_be]
    return dict(sure or found)


def _verb(sentence: Sentence) -> str:
    """Return the kind of news: the word for it, else what its other words can only be about."""
    named = _verbs(sentence)
    if len(named) > 1:
        raise NotClear(f"{' and '.join(sorted(named))} are two pieces of news")
    for verb, one in named.items():
        sentence.left.remove(one)
        return verb
    for kind, verb in ((p.WORKED, "done"), (p.VERDICT, "ground"), (p.STAGE, "stage"), (p.NIGHT, "rain")):
        if any(kind in one.can_be for one in sentence.left):
            return verb
    raise NotClear("no kind of news is named")


def _rain(s: Sentence) -> Strict:
    amount, field = s.must(p.AMOUNT), s.take(p.FIELD)
    # The gauge is read in the morning: that it fell at night says nothing more.
    s.take(p.NIGHT)
    return ["", *([field] if field else []), amount], _past(s)


def _done(s: Sentence) -> Strict:
    field = s.must(p.FIELD)
    pass_id = s.pass_in(field)
    s.crop_of(field)
    area = s.take(p.AMOUNT)
    if area is None and s.take(p.HALF) is not None:
        area = f"{s.farm.field_by_id[field].area_ha / 2:.4f} ha"
    return ["", field, pass_id, *([area] if area else [])], _past(s) | _who(s)


def _work(s: Sentence) -> Strict:
    field = s.must(p.FIELD)
    pass_id = s.pass_in(field)
    s.crop_of(field)
    return ["", field, pass_id], _past(s) | _who(s)


def _cancel(s: Sentence) -> Strict:
    field = s.must(p.FIELD)
    return ["", field, s.pass_in(field)], {}


def _down(s: Sentence) -> Strict:
    return ["", s.must(p.MACHINE)], _span(s)


def _away(s: Sentence) -> Strict:
    return ["", s.must(p.OPERATOR)], _span(s)


def _back(s: Sentence) -> Strict:
    """Read that something is back, or until when it is not: `oskari back fri`."""
    machine = s.take(p.MACHINE)
    name = machine or s.must(p.OPERATOR)
    day, clock = s.when()
    today = s.now.date()
    coming = None if day is None else day_ahead(day, today)
    if coming is not None and coming > today:
        return ["down" if machine else "away", name], {"until": f"{coming} {clock or '00:00'}"}
    return ["", name], {"at": f"{coming or today} {clock}"} if clock else {}


def _ground(s: Sentence) -> Strict:
    field, verdict = s.must(p.FIELD), s.must(p.VERDICT)
    named = any(p.PASS in one.can_be for one in s.left)
    return ["", field, verdict, *([s.pass_in(field)] if named else [])], _past(s)


def _stage(s: Sentence) -> Strict:
    field = s.must(p.FIELD)
    s.crop_of(field)
    return ["", field, s.must(p.STAGE)], _past(s)


def _height(s: Sentence) -> Strict:
    field = s.must(p.FIELD)
    s.crop_of(field)
    return ["", field, s.must(p.AMOUNT)], _past(s)


def _delivered(s: Sentence) -> Strict:
    return ["", s.must(p.PRODUCT), s.must(p.AMOUNT)], _past(s)


def _late(s: Sentence) -> Strict:
    product = s.must(p.PRODUCT)
    day, _ = s.time_after(p.UNTIL)
    day = day or s.when()[0]
    coming = [one.id for one in s.farm.product_by_id[product].deliveries if one.id]
    named = s.take(p.DELIVERY)
    if day is None:
        raise NotClear("the new day of the delivery is not said")
    if named is None and len(coming) != 1:
        raise NotClear(f"which delivery it is has to be said ({', '.join(coming) or 'none is known'})")
    return ["", product, named or coming[0], day], {}


def _pin(s: Sentence) -> Strict:
    field = s.must(p.FIELD)
    pass_id = s.pass_in(field)
    day, clock = s.when()
    if clock is None:
        raise NotClear("a pin needs its hour")
    at = clock if day is None else f"{day_ahead(day, s.now.date())} {clock}"
    return ["", field, pass_id], {"at": at} | _who(s)


READERS: dict[str, Callable[[Sentence], Strict]] = {
    "rain": _rain, "done": _done, "started": _work, "paused": _work, "cancel": _cancel, "down": _down, "away": _away, "back": _back,
    "ground": _ground, "stage": _stage, "height": _height, "delivered": _delivered, "late": _late, "pin": _pin,
}  # fmt: skip


def _who(s: Sentence) -> dict[str, str | None]:
    name = s.take(p.OPERATOR)
    return {} if name is None else {"operator": name}


def _past(s: Sentence) -> dict[str, str | None]:
    """Return when something happened: a weekday is the last one."""
    day, clock = s.when()
    if day is None and clock is None:
        return {}
    on = s.now.date() if day is None else day_behind(day, s.now.date())
    if clock is None:
        return {} if on == s.now.date() else {"at": f"{on} {EVENING}"}
    return {"at": f"{on} {clock}"}


def _span(s: Sentence) -> dict[str, str | None]:
    """Return begin and end of an outage or absence: a day without more is that whole day."""
    last, hour = s.time_after(p.UNTIL)
    day, clock = s.when()
    today = s.now.date()
    out: dict[str, str | None] = {}
    if last is not None or hour is not None:
        end = today if last is None else day_ahead(last, today)
        out["until"] = f"{end} {hour or '00:00'}"
    if day is not None:
        first = day_ahead(day, today)
        if first > today or clock:
            out["at"] = f"{first} {clock or '00:00'}"
        if "until" not in out and clock is None:
            out["until"] = f"{first + timedelta(days=1)} 00:00"
    elif clock is not None:
        out["at"] = f"{today} {clock}"
    return out
