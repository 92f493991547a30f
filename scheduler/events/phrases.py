"""The words that people use for news, sorted into what they can mean on one farm.

Question answered: *what is each word of a sentence?* A thing of the farm, a quantity, a time, a kind of news, or nothing
that is known; what it all says is for `sentence` to decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from scheduler.events import speech as w
from scheduler.events.joined import MOST_WORDS, plain
from scheduler.events.report import clock_of, day_word
from scheduler.events.spoken import DIGITS, UNITS, lasting, spoken
from scheduler.farm.farm import Farm
from scheduler.farm.programme import PassSpec
from shared.vocabulary import Operation

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
INCH_MARK = re.compile(r"(?<=\d)\s*(\"|''|\u201d|\u2033)")
DAYS_FROM_TO = re.compile(r"([a-z]+)[-\u2013]([a-z]+)", re.IGNORECASE)
CLOCKS_FROM_TO = re.compile(
    r"(\d{1,2}(?::\d\d)?(?:[ap]m)?)[-\u2013](\d{1,2}(?::\d\d)?(?:[ap]m)?)", re.IGNORECASE
)
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
    for word in INCH_MARK.sub(" in ", " ".join(words)).split():
        bare = word.strip(",;!?():").rstrip(".")
        glued, days, clocks = (one.fullmatch(bare) for one in (GLUED, DAYS_FROM_TO, CLOCKS_FROM_TO))
        if days and day_word(days[1]) and day_word(days[2]):
            out += [days[1], "to", days[2]]
        elif clocks and any(clock_of(one) for one in clocks.groups()):
            out += [clocks[1], "to", clocks[2]]
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
    if said.casefold() in w.PHRASES:
        kind, value = w.PHRASES[said.casefold()]
        found.setdefault(kind, (value,))
    if said.casefold() in MAY_BE_IDLE:
        found[w.IDLE] = ("",)
    if len(part) == 1 and STAGE_NAME.fullmatch(said):
        found[w.STAGE] = (said.upper(),)
    if len(part) == 2 and NUMBER.fullmatch(part[0]) and _is_unit(part[1], names) and not clock_of(said):
        found[w.AMOUNT] = (said,)
    elif (
        len(part) == 4
        and part[1] == "of"
        and NUMBER.fullmatch(part[0])
        and w.AMOUNT in _meaning(part[2:], names)
    ):
        found[w.SHARE] = (said,)
    elif amount := spoken(part):
        found[w.AMOUNT] = (amount,)
    if hours := lasting(part):
        found[w.LONG] = (hours,)
    if len(part) == 1 and said.isdigit() and 1 <= int(said) <= 12:
        found[w.HOUR] = (said,)
    elif len(part) == 1 and DIGITS.fullmatch(said):
        found[w.NUMBER] = (said,)
    if (clock := clock_of(said)) is not None:
        found[w.CLOCK] = (clock,)
    if day_word(said):
        found[w.DAY] = (said.casefold(),)
    return found


def _is_unit(said: str, names: Mapping[str, object]) -> bool:
    """Return whether a word may be a unit: the farm and the reader of quantities know more of them than are listed here."""
    word = said.casefold()
    known = word in w.PHRASES or plain(said) in names or day_word(said)
    return UNIT.fullmatch(said) is not None and (word in UNITS or not known)


def _names(farm: Farm) -> dict[str, dict[str, tuple[str, ...]]]:
    """Return plain words -> kind -> ids, for everything on the farm that has a name."""
    out: dict[str, dict[str, tuple[str, ...]]] = {}

    def add(kind: str, words: str, name: str) -> None:
        known = out.setdefault(plain(words), {})
        known[kind] = tuple(dict.fromkeys((*known.get(kind, ()), name)))

    for kind, things in (
        (w.FIELD, farm.fields),
        (w.MACHINE, farm.machines),
        (w.OPERATOR, farm.operators),
        (w.PRODUCT, farm.products),
    ):
        for one in things:
            add(kind, one.id, one.id)
            add(kind, one.label, one.id)
    for product in farm.products:
        for delivery in product.deliveries:
            add(w.DELIVERY, delivery.id or "-", delivery.id)
    for spec in (spec for programme in farm.programmes for spec in programme.passes):
        for text in (spec.id, spec.label, *_operations(spec)):
            add(w.PASS, text, spec.id)
        for text in _worked(spec):
            add(w.PASS, text, spec.id)
            add(w.WORKED, text, spec.id)
    whole = set(out)
    for kind, said, name in _short_names(farm):
        if said not in whole:
            add(kind, said, name)
    return out


def _short_names(farm: Farm) -> Iterator[tuple[str, str, str]]:
    """Yield kind, word and id where a word stands in the name of a thing: `maple` of Maple Flat; of many, how many."""
    for kind, things in (
        (w.FIELD, farm.fields),
        (w.MACHINE, farm.machines),
        (w.OPERATOR, farm.operators),
        (w.PRODUCT, farm.products),
    ):
        owners: dict[str, set[str]] = {}
        for one in things:
            for said in {*plain(one.label).split(), *plain(one.id).split()}:
                owners.setdefault(said, set()).add(one.id)
        for said, names in owners.items():
            if not said.isalpha() or len(said) < SHORTEST or _says_else(said):
                continue
            if len(names) > OWNERS_MOST:
                yield w.MANY, said, f"{len(names)} {kind}s"
            else:
                yield from ((kind, said, name) for name in sorted(names))


def _says_else(said: str) -> bool:
    return said in w.PHRASES or said in UNITS or said in OF_ANY or day_word(said)


def _operations(spec: PassSpec) -> list[str]:
    """Return what is done in a pass; a cover is mostly terminated by spraying, and people call it that."""
    more = [Operation.SPRAY.value] if Operation.TERMINATE in spec.operations else []
    return [one.value for one in spec.operations] + more


CALLED = {
    Operation.TERMINATE: (
        "burndown",
        "burn-down",
        "burned down",
        "burnt down",
        "killed",
        "rolled",
        "crimped",
    ),
    Operation.BAND_NITROGEN: ("knifed in", "injected"),
    Operation.PLANT: ("sown", "sowed", "seeded", "drilled"),
}
"""More words for work that was done (common speech, no source)."""


def _worked(spec: PassSpec) -> list[str]:
    """Return the words for a pass that was worked: planted, terminated, banded, side-dressed."""
    heads = {plain(text).split()[0] for text in (spec.id, spec.label)} | {
        plain(one) for one in _operations(spec)
    }
    out = []
    for head in sorted(heads | {one.split()[0] for one in heads}):
        out += _participles(head)
    out += [said for operation in spec.operations for said in CALLED.get(operation, ())]
    for text in (spec.id, spec.label):
        first, _, rest = plain(text).partition(" ")
        out += [f"{one} {rest}" for one in _participles(first) if rest]
    return out


def _participles(head: str) -> list[str]:
    return [head + ("d" if head.endswith("e") else "ed"), (head[:-1] if head.endswith("e") else head) + "ing"]
