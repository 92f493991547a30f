"""Day lists as sheets of paper, in each person's language."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduler.crew.day_list import DayList
from scheduler.crew.language import Words
from scheduler.crew.remarks import HAZARD, ODDS, load_rest, remarks, role_name
from scheduler.crew.stop import Stop
from shared.sheet import Sheet, SheetJob


def sheets(lists: Iterable[DayList], links: Mapping[str, str]) -> list[Sheet]:
    """Return one sheet for each list; `links` gives the address of a person's page by operator."""
    return [_sheet(one, links.get(one.operator, "")) for one in lists]


def _sheet(one: DayList, link: str) -> Sheet:
    words = Words(one.language)
    return Sheet(
        head=f"{one.name}, {words.day(one.day)}", sub=f"{one.farm}. {one.lead(words)}", cautions_title=words("Take care"), cautions=one.cautions,
        ticks=(
            (words("Over by the plan, not reported yet"), tuple(owed.text(words) for owed in one.owed)),
            (words("Hitch"), one.hitch),
            (words("Load for the day"), one.totals),
        ),
        jobs=tuple(_job(stop, words) for stop in one.stops), empty=one.free_reason, watch=one.notes, news_title=one.changed_title, news=one.changed, notes_title=words("Report tonight"),
        foot=words("The plan advises. Labels, local law and licensed people decide."), link=link,
    )  # fmt: skip


def _job(stop: Stop, words: Words) -> SheetJob:
    lines = [f"{role_name(stop, words)}; {stop.rig or words('on foot')}; {stop.with_whom}".rstrip("; ")]
    lines += [f"{load.name}: {load.rate_text}; {load_rest(load)}" for load in stop.loads]
    lines += [f"! {one.text}" if one.kind in (HAZARD, ODDS) else one.text for one in remarks(stop, words)]
    return SheetJob(
        f"{words.clock(stop.start)}-{words.clock(stop.end)}",
        f"{stop.field_name}, {stop.area_text}",
        tuple(lines),
    )
