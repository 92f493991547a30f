"""Several pieces of news in one sentence: `planted heron and far west yesterday`, `planter broke, oskari off tomorrow`.

Tried only where the sentence as a whole makes no report, and only where every part of it makes one. Of two ways to read it
that differ, none is taken: it is asked for instead.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache

from scheduler.events import phrases as p
from scheduler.events import speech as w
from scheduler.events.everybody import in_plain, of_each
from scheduler.events.planned import Planned, nothing_planned
from scheduler.events.report import Report
from scheduler.events.situation import Situation
from scheduler.events.words import report_from_words
from scheduler.farm.farm import Farm
from shared.errors import ReportRefused
from shared.vocabulary import EventKind

MARK = "\u00a6"
"""Stands for a comma or a full stop while words are sorted."""
BETWEEN = (MARK, "and", "&", "then", "plus", "also")
COMMA = re.compile(r"[,;](?!\d)|(?<!\d),|[.!](?=\s|$)")
LISTED = (w.FIELD, w.MACHINE, w.OPERATOR)
PARTS_MOST, WAYS_MOST, ONE_IN_PARTS_MOST = 16, 40, 4
SPANS = (EventKind.MACHINE_DOWN, EventKind.OPERATOR_ABSENT)
PAST = (
    EventKind.RAIN_MEASURED, EventKind.PASS_STARTED, EventKind.PASS_PAUSED, EventKind.PASS_PROGRESSED, EventKind.PASS_FINISHED,
    EventKind.STAGE_SCOUTED, EventKind.GROUND_CHECKED, EventKind.SUPPLY_DELIVERED, EventKind.SUPPLY_COUNTED,
)  # fmt: skip
Part = list[p.Found]
Read = Callable[[str], Report | None]
Said = tuple[tuple[str, Report], ...]
"""Words and report of each piece."""


def reports_from_words(
    words: Sequence[str],
    options: Mapping[str, str | None],
    farm: Farm,
    now: datetime,
    situation: Situation | None = None,
    planned: Planned = nothing_planned,
) -> Said:
    """Return the reports that a sentence makes, with their words; mostly one.

    Parameters
    ----------
    words, options, farm, now, situation, planned
        As in `words.report_from_words`; options hold for every piece.

    Raises
    ------
    ReportRefused
        The words make no report, or not all of them do.
    """
    whole = " ".join(words)

    def must(said: str) -> Report:
        return report_from_words(said.split(), options, farm, now, situation, planned)

    try:
        return ((whole, report_from_words(words, options, farm, now, situation, planned)),)
    except ReportRefused as refused:
        own_words = words[0].casefold() in ("correct", "change")
        said = in_plain(whole)
        parts = [] if own_words else _parts(said, farm)
        if not (1 if of_each(said, farm) else 2) <= len(parts) <= PARTS_MOST:
            raise

        @cache
        def read(said: str) -> Report | None:
            try:
                return must(said)
            except ReportRefused:
                return None

        ways = _ways(parts, read, farm)
        if not ways:
            raise _unclear(parts, read, refused, must, farm) from None
        return _numbered(_one_way(ways, farm), options)


def _parts(text: str, farm: Farm) -> list[Part]:
    """Return a sentence cut at its commas and ands; a name that has an `and` of its own stays whole."""
    parts: list[Part] = [[]]
    for one in p.sort_words([COMMA.sub(f" {MARK} ", text)], farm):
        if one.words.casefold() in BETWEEN and not set(one.can_be) - {w.IDLE}:
            parts.append([])
        elif set(one.can_be) != {w.IDLE}:
            parts[-1].append(one)
    return [part for part in parts if part]


def _ways(parts: Sequence[Part], read: Read, farm: Farm) -> list[Said]:
    """Return the ways to read a sentence: each part alone or with its neighbours, and every part a report."""
    known: dict[int, list[Said]] = {len(parts): [()]}
    for begin in range(len(parts) - 1, -1, -1):
        found: list[Said] = []
        for end in range(begin + 1, len(parts) + 1):
            for reading in _readings(parts[begin:end], farm) if known[end] else []:
                run = tuple((text, one) for text in reading.texts if (one := read(text)) is not None)
                if len(run) == len(reading.texts) and reading.sound(run):
                    found += [(*run, *rest) for rest in known[end]]
        known[begin] = found[:WAYS_MOST]
    return known[0]


def _one_way(ways: Sequence[Said], farm: Farm) -> Said:
    """Return the only way to read a sentence, of those that say of everything that happened when it was, or of nothing.

    Raises
    ------
    ReportRefused
        None is left, or several that say different things.
    """
    sound = [way for way in ways if not _untimed(way, farm)]
    if not sound:
        raise ReportRefused(
            f"it is not said when {_untimed(ways[0], farm)!r} was, and of the rest it is; say it of each."
        )
    differ = {tuple(sorted(_mark(one) for _, one in way)): way for way in sound}
    if len(differ) > 1:
        first, second = ("; ".join(text for text, _ in way) for way in list(differ.values())[:2])
        raise ReportRefused(f"that can be {first!r} or {second!r}; say it in two sentences.")
    return tuple({_mark(one): (text, one) for text, one in sound[0]}.values())


@dataclass(frozen=True)
class _Reading:
    """Sentences that some parts may stand for, and whether what comes of them makes sense together."""

    texts: list[str]
    sound: Callable[[Said], bool] = lambda _: True


def _readings(parts: Sequence[Part], farm: Farm) -> list[_Reading]:
    """Return what neighbouring parts may stand for: one sentence; a list of names or days; what is said once for all."""
    if len(parts) == 1:
        each = of_each(_text(parts[0]), farm)
        return [_Reading([_text(parts[0])]), *([_Reading(each)] if each else [])]
    lists = [
        _Reading(texts)
        for kind in LISTED
        for texts in (_listed(parts, kind), _verb_once(parts, kind))
        if texts
    ]
    days, amounts = _listed(parts, w.DAY), _verb_once(parts, w.AMOUNT)
    more = [
        _Reading(_one_in_parts(parts)),
        _Reading(days, lambda said: all(one.kind in SPANS for _, one in said)),
        _Reading(amounts, lambda said: all(one.kind is EventKind.RAIN_MEASURED for _, one in said)),
        _Reading(_same_field(parts), _say_different),
        _Reading(_stopped_for(parts)),
    ]
    return [*lists, *(one for one in more if one.texts)]


def _one_in_parts(parts: Sequence[Part]) -> list[str]:
    """Return one sentence that commas stand in: `planted heron, 40 ac, ilse`; a day alone belongs to what stands before it."""
    if len(parts) > ONE_IN_PARTS_MOST or all(w.DAY in one.can_be for one in parts[0]):
        return []
    return [" ".join(_text(part) for part in parts)]


def _same_field(parts: Sequence[Part]) -> list[str]:
    """Return two sentences on one field, named once: `stopped banding kiln, 60 ac done`, `kiln is at V3 and 8 in tall`."""
    if len(parts) != 2 or any({w.FIELD, w.MACHINE, w.OPERATOR} & set(one.can_be) for one in parts[1]):
        return []
    fields = [one for one in parts[0] if w.FIELD in one.can_be]
    if len(fields) != 1:
        return []
    work = (
        [one for one in parts[0] if w.PASS in one.can_be]
        if any(w.AMOUNT in one.can_be for one in parts[1])
        else []
    )
    tall = any(one.words.casefold() in ("tall", "high", "height") for one in parts[1])
    return [_text(parts[0]), _text([*fields, *([] if tall else work), *parts[1]])]


def _stopped_for(parts: Sequence[Part]) -> list[str]:
    """Return one sentence whose last part only says why work stopped: `stopped planting kiln, rain`."""
    words = [word for one in parts[-1] for word in one.words.casefold().split()]
    if len(parts) != 2 or not all(word in w.REASONS for word in words):
        return []
    return [f"{_text(parts[0])} because of {' '.join(words)}"]


def _say_different(said: Said) -> bool:
    """Return whether two sentences on one field do not both say how far its work is."""
    return not {one.kind for _, one in said} <= {EventKind.PASS_FINISHED, EventKind.PASS_PROGRESSED}


def _listed(parts: Sequence[Part], kind: str) -> list[str]:
    """Return a sentence for each name of a list: `planted heron and far west yesterday`.

    What is said of all stands before or behind the list: in its first part, or behind the name of its last.
    """
    names = [[one for one in part if kind in one.can_be] for part in parts]
    if (
        any(len(found) != 1 for found in names)
        or any(len(part) > 1 for part in parts[1:-1])
        or kind not in parts[-1][0].can_be
    ):
        return []
    place = next(k for k, one in enumerate(parts[0]) if kind in one.can_be)
    before, behind = parts[0][:place], [*parts[0][place + 1 :], *parts[-1][1:]]
    if _shares_area([*before, *behind]):
        return []
    return [_text([*before, found[0], *behind]) for found in names]


def _verb_once(parts: Sequence[Part], kind: str) -> list[str]:
    """Return sentences that share what stands before the first name: `planted heron 40 ac and far west 30 ac`."""
    first = next((k for k, one in enumerate(parts[0]) if kind in one.can_be), 0)
    if first == 0 or any(kind not in part[0].can_be for part in parts[1:]) or _shares_area(parts[0][:first]):
        return []
    head = _text(parts[0][:first])
    return [_text(parts[0]), *(f"{head} {_text(part)}" for part in parts[1:])]


def _text(part: Sequence[p.Found]) -> str:
    return " ".join(one.words for one in part)


def _shares_area(words: Sequence[p.Found]) -> bool:
    """Return whether an area is said once for several: it may be of each or of all, which is for people to say."""
    units = [one.words.split()[-1].casefold() for one in words if w.AMOUNT in one.can_be]
    areas = any(unit.startswith(("acre", "hectare")) or unit in ("ac", "ha") for unit in units)
    return areas or any(w.HALF in one.can_be for one in words)


def _mark(one: Report) -> str:
    """Return what tells reports apart by what they say: the sender's id is the same for all pieces."""
    return replace(one, id="").key()


def _untimed(way: Said, farm: Farm) -> str:
    """Return what is said to have happened without a time where others have one: yesterday may be meant of all."""
    past = [text for text, report in way if report.kind in PAST]
    timed = [any({w.DAY, w.CLOCK} & set(one.can_be) for one in p.sort_words([text], farm)) for text in past]
    return next((text for text, has in zip(past, timed, strict=True) if not has), "") if any(timed) else ""


def _unclear(
    parts: Sequence[Part], read: Read, whole: ReportRefused, must: Read, farm: Farm
) -> ReportRefused:
    """Return what is not clear in the reading that comes nearest; the refusal of the whole where none comes near."""
    fields = [one.words for part in parts for one in part if w.FIELD in one.can_be]
    alone = any(len(part) == 1 and w.FIELD in part[0].can_be for part in parts)
    if alone and len(fields) > 1 and any(_shares_area(part) for part in parts):
        return ReportRefused(f"an area is said once of {' and '.join(fields)}; say it of each.")
    lists = [one.texts for one in _readings(parts, farm) if len(one.texts) == len(parts)]
    wrong = [[text for text in texts if read(text) is None] for texts in lists]
    nearest = min(wrong, key=len, default=[])
    each = [text for part in parts for text in of_each(_text(part), farm) if read(text) is None]
    if each:
        nearest = each[:1]
    elif len(nearest) != 1:
        clear = next(k for k in range(len(parts) - 1, -1, -1) if _ways(parts[:k], read, farm))
        nearest = [_text(parts[clear])] if clear else nearest
    try:
        for text in nearest[:1]:
            must(text)
    except ReportRefused as refused:
        return refused
    return whole


def _numbered(found: Said, options: Mapping[str, str | None]) -> Said:
    """Give each report an id of its own where the sender gave one for all."""
    if not options.get("id"):
        return found
    return tuple((text, replace(one, id=f"{one.id}-{k}")) for k, (text, one) in enumerate(found, 1))
