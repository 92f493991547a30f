"""A day list in 320 characters, two text messages: the most important first, in letters that every phone knows.

The letters are those of GSM 03.38's basic set (3GPP TS 23.038); others are written with their nearest ones, since one letter
outside it halves what a message holds.
"""

from __future__ import annotations

import unicodedata

from scheduler.crew.day_list import DayList
from scheduler.crew.language import Words
from scheduler.crew.remarks import role_name
from scheduler.crew.stop import Stop

MOST = 320
GSM = frozenset(
    "@£$¥èéùìòÇ\nØøÅå_ÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""The basic set (from memory), less the Greek capitals and the extension table."""
REPLACED = {"–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "…": "...", "·": "-", "→": ">"}


def short_text(one: DayList) -> str:
    """Return a day list of at most 320 characters; what does not fit is said to be missing."""
    words = Words(one.language)
    if one.leave_at is None:
        return plain(f"{words.day(one.day, opening=True)}: {one.free_reason}")[:MOST]
    head = f"{words.day(one.day, opening=True)}."
    if not one.at_work:
        head += f" {words.clock(one.leave_at)} {one.yard}."
    tail = words("Read the full list and its cautions.")
    out = plain(head)
    last = plain(tail)
    for number, stop in enumerate(one.stops):
        left = len(one.stops) - number
        line = plain(_stop(stop, words))
        more = plain(f" +{left}") if left > 0 else ""
        room = MOST - len(last) - 1
        if len(out) + 1 + len(line) + (len(more) if left > 1 else 0) > room:
            out += more
            break
        out += f" {line}"
    return f"{out} {last}"[:MOST]


def _stop(stop: Stop, words: Words) -> str:
    return f"{words.clock(stop.start)} {stop.field_name}, {role_name(stop, words)}, {stop.area_text}."


def plain(text: str) -> str:
    """Return a text in the basic letters of text messages."""
    out = []
    for mark in text:
        mark = REPLACED.get(mark, mark)
        if all(part in GSM for part in mark):
            out.append(mark)
            continue
        bare = "".join(part for part in unicodedata.normalize("NFKD", mark) if part in GSM)
        out.append(bare or "?")
    return "".join(out)
