"""The words that people use for news, sorted into what they can mean on one farm.

Question answered: *what is each word of a sentence?* A thing of the farm, a quantity, a time, a kind of news, or nothing
that is known; what it all says is for `sentence` to decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from scheduler.events.joined import MOST_WORDS, plain
from scheduler.events.report import clock_of, day_word
from scheduler.events.spoken import UNITS, lasting, spoken
from scheduler.farm.farm import Farm
from scheduler.farm.programme import PassSpec
from shared.vocabulary import Crop, Fitness, Operation

VERB, VERDICT, CROP, STAGE, AMOUNT, DAY, CLOCK, FROM, UNTIL = "verb", "verdict", "crop", "stage", "amount", "day", "clock", "from", "until"  # fmt: skip
FIELD, MACHINE, OPERATOR, PRODUCT, DELIVERY = "field", "machine", "operator", "product", "delivery"
PASS, WORKED, HALF, LEFT, IDLE, NIGHT = "pass", "worked", "half", "left", "idle", "night"
HOUR, PART, LONG, REST, LAB, MANY = "hour", "part of a day", "how long", "rest", "result", "many"
PHRASES: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("rain", "rained", "raining", "rainfall"), (VERB, "rain")),
    **dict.fromkeys(
        ("down", "broke", "broke down", "broken", "broken down", "breakdown", "out of order", "failed", "in the shop", "being fixed"), (VERB, "down")
    ),
    **dict.fromkeys(
        ("back", "fixed", "repaired", "runs", "runs again", "running", "running again", "works again", "going again"), (VERB, "back")
    ),
    **dict.fromkeys(("away", "sick", "ill", "off", "absent", "out", "gone", "not in", "not here", "not coming", "not working"), (VERB, "away")),
    **dict.fromkeys(("leaves", "leaving", "goes home", "has to leave", "only until", "only till", "here until"), (VERB, "leaves")),
    **dict.fromkeys(("no rain", "rain gauge dry", "gauge dry"), (VERB, "no rain")),
    **dict.fromkeys(("done", "did", "finished", "finish", "complete", "completed"), (VERB, "done")),
    **dict.fromkeys(("started", "start", "starting", "begun", "began"), (VERB, "started")),
    **dict.fromkeys(("paused", "pause", "stopped", "stop"), (VERB, "paused")),
    **dict.fromkeys(("cancel", "cancelled", "canceled", "called off", "skip", "skipped"), (VERB, "cancel")),
    **dict.fromkeys(("delivered", "delivery", "arrived", "came", "received"), (VERB, "delivered")),
    **dict.fromkeys(("late", "delayed"), (VERB, "late")),
    **dict.fromkeys(("stage",), (VERB, "stage")),
    **dict.fromkeys(("height", "tall", "high"), (VERB, "height")),
    **dict.fromkeys(("ground", "soil"), (VERB, "ground")),
    **dict.fromkeys(("pin", "pinned"), (VERB, "pin")),
    **dict.fromkeys(("tissue", "tissue result", "tissue test", "lab result"), (LAB, "")),
    **dict.fromkeys(
        ("unfit", "not fit", "too wet", "wet", "muddy", "soft", "soggy", "sticky"), (VERDICT, Fitness.UNFIT.value)
    ),
    **dict.fromkeys(("fit", "dry", "dry enough"), (VERDICT, Fitness.FIT.value)),
    **dict.fromkeys(("marginal",), (VERDICT, Fitness.MARGINAL.value)),
    **dict.fromkeys(("corn", "maize"), (CROP, Crop.CORN.value)),
    **dict.fromkeys(("soybean", "soybeans", "beans"), (CROP, Crop.SOYBEAN.value)),
    **dict.fromkeys(("on", "at", "by"), (FROM, "on")),
    "from": (FROM, "from"),
    "since": (FROM, "since"),
    **dict.fromkeys(("until", "till", "til"), (UNTIL, "until")),
    **dict.fromkeys(("to", "through", "thru"), (UNTIL, "through")),
    **dict.fromkeys(("morning", "in the morning"), (PART, "morning")),
    **dict.fromkeys(("afternoon", "in the afternoon"), (PART, "afternoon")),
    **dict.fromkeys(("evening", "in the evening", "tonight"), (PART, "evening")),
    **dict.fromkeys(("rest of the day", "rest of today", "for the day", "for today"), (REST, "day")),
    **dict.fromkeys(("rest of the week", "this week", "all week"), (REST, "week")),
    "next week": (REST, "next week"),
    **dict.fromkeys(("half", "half of it", "half of"), (HALF, "")),
    **dict.fromkeys(("left", "to go", "remaining", "still to do"), (LEFT, "")),
    **dict.fromkeys(("last night", "overnight", "during the night", "in the night"), (NIGHT, "")),
    **dict.fromkeys(
        ("the", "a", "an", "is", "are", "was", "were", "has", "have", "had", "been", "in", "of", "we", "got", "with", "today's", "for", "takes", "taking",
         "should be", "will be", "all", "all of it", "whole", "everything", "completely", "it", "this", "again", "now", "too", "as well",
         "both", "in the gauge", "gauge"), (IDLE, "")
    ),
}  # fmt: skip
"""Words for kinds of news and what belongs to them (common speech, no source)."""
MAY_BE_IDLE = ("on", "at", "by", "to", "delivery")
"""Words that say something in their place (on fri, delivery 50 bags) and nothing elsewhere (on kiln field, delivery n-2 late)."""
OF_ANY = (
    "field", "piece", "plot", "block", "land", "farm", "machine", "operator", "and", "then", "plus", "also", "not", "but",
)  # fmt: skip
"""Words that say nothing of which thing is meant, even where one name only has them."""
SHORTEST = 3
"""Letters of a word that may stand for a whole name."""
OWNERS_MOST = 3
"""Things that may share a word of their names and are named when it is asked which is meant; of more only their number is told."""
STAGE_NAME = re.compile(r"v\d{1,2}|ve|vt|vc|r\d", re.IGNORECASE)
GLUED = re.compile(r"(\d[\d.,]*)([a-z%\"'][a-z/%\"']*)", re.IGNORECASE)
DAYS_FROM_TO = re.compile(r"([a-z]+)[-\u2013]([a-z]+)", re.IGNORECASE)
NUMBER, UNIT = re.compile(r"[\d.,]*\d"), re.compile(r"[a-z%\"'][a-z0-9/%\"']*", re.IGNORECASE)


@dataclass(frozen=True)
class Found:
    """Some words of a sentence, and what they can mean: kind -> values."""

    words: str
    can_be: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def sort_words(words: Sequence[str], farm: Farm) -> list[Found]:
    """Return what each word of a sentence, or several together, can mean; the longest understood run first."""
    names = _names(farm)
    tokens = _tokens(words)
    out: list[Found] = []
    place = 0
    while place < len(tokens):
        for count in range(min(MOST_WORDS, len(tokens) - place), 0, -1):
            part = tokens[place : place + count]
            can_be = _meaning(part, names)
            if can_be:
                break
        else:
            can_be, count = {}, 1
        out.append(Found(" ".join(tokens[place : place + count]), can_be))
        place += count
    return out


def _tokens(words: Sequence[str]) -> list[str]:
    out: list[str] = []
    for word in " ".join(words).split():
        bare = word.strip(",;!?():").rstrip(".")
        glued, days = GLUED.fullmatch(bare), DAYS_FROM_TO.fullmatch(bare)
        if days and day_word(days[1]) and day_word(days[2]):
            out += [days[1], "to", days[2]]
        elif glued and not clock_of(bare) and not day_word(bare):
            out += [glued[1], glued[2]]
        elif bare:
            out.append(bare)
    return out


def _meaning(
    part: Sequence[str], names: Mapping[str, dict[str, tuple[str, ...]]]
) -> dict[str, tuple[str, ...]]:
    said = " ".join(part)
    found = dict(names.get(plain(said), {}))
    if said.casefold() in PHRASES:
        kind, value = PHRASES[said.casefold()]
        found.setdefault(kind, (value,))
    if said.casefold() in MAY_BE_IDLE:
        found[IDLE] = ("",)
    if len(part) == 1 and STAGE_NAME.fullmatch(said):
        found[STAGE] = (said.upper(),)
    if len(part) == 2 and NUMBER.fullmatch(part[0]) and _is_unit(part[1], names) and not clock_of(said):
        found[AMOUNT] = (said,)
    elif amount := spoken(part):
        found[AMOUNT] = (amount,)
    if hours := lasting(part):
        found[LONG] = (hours,)
    if len(part) == 1 and said.isdigit() and 1 <= int(said) <= 12:
        found[HOUR] = (said,)
    if (clock := clock_of(said)) is not None:
        found[CLOCK] = (clock,)
    if day_word(said):
        found[DAY] = (said.casefold(),)
    return found


def _is_unit(said: str, names: Mapping[str, object]) -> bool:
    """Return whether a word may be a unit: the farm and the reader of quantities know more of them than are listed here."""
    word = said.casefold()
    known = word in PHRASES or plain(said) in names or day_word(said)
    return UNIT.fullmatch(said) is not None and (word in UNITS or not known)


def _names(farm: Farm) -> dict[str, dict[str, tuple[str, ...]]]:
    """Return plain words -> kind -> ids, for everything on the farm that has a name."""
    out: dict[str, dict[str, tuple[str, ...]]] = {}

    def add(kind: str, words: str, name: str) -> None:
        known = out.setdefault(plain(words), {})
        known[kind] = tuple(dict.fromkeys((*known.get(kind, ()), name)))

    for kind, things in (
        (FIELD, farm.fields),
        (MACHINE, farm.machines),
        (OPERATOR, farm.operators),
        (PRODUCT, farm.products),
    ):
        for one in things:
            add(kind, one.id, one.id)
            add(kind, one.label, one.id)
    for product in farm.products:
        for delivery in product.deliveries:
            add(DELIVERY, delivery.id or "-", delivery.id)
    for spec in (spec for programme in farm.programmes for spec in programme.passes):
        for text in (spec.id, spec.label, *_operations(spec)):
            add(PASS, text, spec.id)
        for text in _worked(spec):
            add(PASS, text, spec.id)
            add(WORKED, text, spec.id)
    whole = set(out)
    for kind, said, name in _short_names(farm):
        if said not in whole:
            add(kind, said, name)
    return out


def _short_names(farm: Farm) -> Iterator[tuple[str, str, str]]:
    """Yield kind, word and id where a word stands in the name of a thing: `maple` of Maple Flat; of many, how many."""
    for kind, things in (
        (FIELD, farm.fields),
        (MACHINE, farm.machines),
        (OPERATOR, farm.operators),
        (PRODUCT, farm.products),
    ):
        owners: dict[str, set[str]] = {}
        for one in things:
            for said in {*plain(one.label).split(), *plain(one.id).split()}:
                owners.setdefault(said, set()).add(one.id)
        for said, names in owners.items():
            if not said.isalpha() or len(said) < SHORTEST or _says_else(said):
                continue
            if len(names) > OWNERS_MOST:
                yield MANY, said, f"{len(names)} {kind}s"
            else:
                yield from ((kind, said, name) for name in sorted(names))


def _says_else(said: str) -> bool:
    return said in PHRASES or said in UNITS or said in OF_ANY or day_word(said)


def _operations(spec: PassSpec) -> list[str]:
    """Return what is done in a pass; a cover is mostly terminated by spraying, and people call it that."""
    more = [Operation.SPRAY.value] if Operation.TERMINATE in spec.operations else []
    return [one.value for one in spec.operations] + more


def _worked(spec: PassSpec) -> list[str]:
    """Return the words for a pass that was worked: planted, terminated, banded, side-dressed."""
    heads = {plain(text).split()[0] for text in (spec.id, spec.label)} | {
        plain(one) for one in _operations(spec)
    }
    out = []
    for head in sorted(heads | {one.split()[0] for one in heads}):
        out += _participles(head)
    for text in (spec.id, spec.label):
        first, _, rest = plain(text).partition(" ")
        out += [f"{one} {rest}" for one in _participles(first) if rest]
    return out


def _participles(head: str) -> list[str]:
    return [head + ("d" if head.endswith("e") else "ed"), (head[:-1] if head.endswith("e") else head) + "ing"]
