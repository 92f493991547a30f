"""One line of a what-if, read: the words of a report, or one of the words that only a what-if knows.

    out planter from 2027-05-12 until 2027-05-16         away ilse until 2027-05-20
    hire "Lent planter" like planter until 2027-05-20 cost "900 $/day"
    join Otto like ilse cost "24 $/h"                    custom plant "16 $/ac" in heron, far-west
    hours all "05:00-22:00" | longer all "1 h"           off sun | on sun | off sat ilse
    change machine planter speed "6 mph"                 tracks row | wheels big | tile alder-bottom
    late n32 n-2 2027-05-18                              drop post in heron
    give-up alder-bottom                                 crop alder-bottom beans soybean
    rain +30% | rain -30% | rain "1 in" on 2027-05-13
    must plant in heron, far-west by 2027-05-14

What is said at the end, in any order: ``from``, ``until``, ``on`` (times), ``cost``, ``in`` (fields), ``why``.
"""

from __future__ import annotations

import shlex
from dataclasses import dataclass, field

from shared.errors import ReportRefused

TAILS = ("from", "until", "cost", "why", "on")
SAME_AS_REPORT = (
    "away", "back", "late", "cancel", "done", "finished", "delivered", "counted", "stage", "height", "ground", "tissue",
    "again", "change", "hours", "pin", "unpin", "hire", "join",
)  # fmt: skip


@dataclass(frozen=True)
class Wish:
    """A line taken apart.

    Attributes
    ----------
    line : str
        As written.
    verb : str
    words : tuple of str
        What belongs to the verb.
    tails : mapping of str to str
        ``from``, ``until``, ``on``, ``cost``, ``why``, as written.
    fields : tuple of str
        After ``in``; empty: all.
    """

    line: str
    verb: str
    words: tuple[str, ...]
    tails: dict[str, str] = field(default_factory=dict)
    fields: tuple[str, ...] = ()


USAGE: dict[str, tuple[str, int, int]] = {
    "out": ("out MACHINE [from TIME] [until TIME]", 1, 1),
    "custom": ('custom PASS "16 $/ac" [in FIELDS] [from TIME] [until TIME]', 2, 2),
    "longer": ('longer OPERATOR|all "1 h"', 2, 2),
    "shorter": ('shorter OPERATOR|all "1 h"', 2, 2),
    "off": ("off sun|mon|... [OPERATOR|all]", 1, 2),
    "on": ("on sun|mon|... [OPERATOR|all]", 1, 2),
    "tracks": ("tracks MACHINE", 1, 1),
    "wheels": ("wheels MACHINE", 1, 1),
    "tile": ("tile FIELD", 1, 1),
    "drop": ("drop PASS [in FIELDS]", 1, 1),
    "give-up": ("give-up FIELD", 1, 1),
    "crop": ("crop FIELD PROGRAMME [corn|soybean [YIELD]]", 2, 4),
    "must": ("must PASS [in FIELDS] by DATE|TIME", 3, 99),
    "rain": ('rain +30%|-30% | rain "1 in" on DATE', 1, 1),
}


def read_wish(line: str) -> Wish:
    """Return a line taken apart.

    Raises
    ------
    ReportRefused
        Not a line of a what-if; the sentence says what is allowed.
    """
    try:
        words = shlex.split(line)
    except ValueError as error:
        raise ReportRefused(f"what-if {line!r}: a quotation mark is not closed.") from error
    if not words:
        raise ReportRefused("a what-if line is empty; write for example: out planter until 2027-05-16.")
    verb, rest = words[0].casefold(), words[1:]
    if verb not in USAGE and verb not in SAME_AS_REPORT:
        known = ", ".join([*USAGE, *SAME_AS_REPORT])
        raise ReportRefused(f"what-if {line!r}: {words[0]!r} is not known; known: {known}.")
    plain, tails, fields = _tails(rest, line, verb)
    if verb in USAGE:
        usage, least, most = USAGE[verb]
        if not least <= len(plain) <= most:
            raise ReportRefused(f"what-if {line!r}: {verb!r} takes other words; write: {usage}.")
    return Wish(line, verb, tuple(plain), tails, tuple(fields))


def _tails(rest: list[str], line: str, verb: str) -> tuple[list[str], dict[str, str], list[str]]:
    plain: list[str] = []
    tails: dict[str, str] = {}
    fields: list[str] = []
    place = 0
    while place < len(rest):
        word = rest[place].casefold()
        # The first word belongs to the verb: `change field in ...` would be read wrongly otherwise.
        if place > 0 and word in TAILS:
            if place + 1 >= len(rest):
                raise ReportRefused(f"what-if {line!r}: nothing stands behind {word!r}.")
            tails[word] = rest[place + 1]
            place += 2
        elif place > 0 and word == "in" and verb in ("custom", "drop"):
            place += 1
            while place < len(rest) and rest[place].casefold() not in TAILS:
                fields += [part for part in rest[place].split(",") if part]
                place += 1
        else:
            plain.append(rest[place])
            place += 1
    return plain, tails, fields
