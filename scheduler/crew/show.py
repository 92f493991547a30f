"""A day list as text for a screen or a printer, and as a table for a spreadsheet."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from io import StringIO
from textwrap import wrap

from scheduler.crew.day_list import DayList
from scheduler.crew.language import Words
from scheduler.crew.remarks import HAZARD, NOTE, ODDS, TOLD, WAIT, load_rest, remarks, role_name
from scheduler.crew.stop import Stop

WIDTH = 78
MARKS = {HAZARD: "! ", ODDS: "? ", WAIT: "> ", TOLD: "= ", NOTE: ""}


def _indent(text: str, by: int = 8, mark: str = "") -> list[str]:
    lines = wrap(text, WIDTH - by - len(mark)) or [""]
    return [" " * by + mark + lines[0], *(" " * (by + len(mark)) + line for line in lines[1:])]


def day_list_text(one: DayList) -> str:
    """Return a day list as plain text, at most 78 columns wide."""
    words = Words(one.language)
    out = [f"{one.name}   {words.day(one.day, opening=True)}   {one.farm}", "=" * WIDTH]
    if one.changed:
        out += [f"{one.changed_title}:", *(row for line in one.changed for row in _indent(line, 2, "* ")), ""]
    if one.leave_at is None or one.home_by is None:
        return "\n".join([*out, one.free_reason, *_owed_lines(one, words), ""])
    out.append(one.lead(words))
    for title, lines in ((words("Hitch"), one.hitch), (words("Load for the day"), one.totals)):
        if lines:
            out += ["", f"{title}:", *(row for line in lines for row in _indent(line, 2, "[ ] "))]
    out += ["", words("Fields in order") + ":"]
    for number, stop in enumerate(one.stops, 1):
        out += _stop_lines(number, stop, words)
    out += _owed_lines(one, words)
    if one.notes:
        out += ["", *(row for note in one.notes for row in _indent(note, 2, "! "))]
    for title, lines in ((words("Take care"), one.cautions), (words("Report tonight"), one.to_report)):
        out += ["", f"{title}:", *(row for line in lines for row in _indent(line, 2, "- "))]
    out += ["", *wrap(words("The plan advises. Labels, local law and licensed people decide."), WIDTH), ""]
    return "\n".join(out)


def _owed_lines(one: DayList, words: Words) -> list[str]:
    """Return what is taken as done and was not reported."""
    lines = [row for owed in one.owed for row in _indent(owed.text(words), 2, "[ ] ")]
    return ["", words("Over by the plan, not reported yet") + ":", *lines] if lines else []


def _stop_lines(number: int, stop: Stop, words: Words) -> list[str]:
    head = (
        f"{number:>2}. {words.clock(stop.start)}-{words.clock(stop.end)}  {stop.field_name}  {stop.area_text}"
    )
    out = [
        head,
        *_indent(f"{role_name(stop, words)} - {stop.rig or words('on foot')}; {stop.with_whom}".rstrip("; ")),
    ]
    for line in stop.loads:
        out += [*_indent(f"{line.name}: {line.rate_text}"), *_indent(load_rest(line), 10)]
    return out + [row for one in remarks(stop, words) for row in _indent(one.text, 8, MARKS[one.kind])]


COLUMNS = (
    "date", "operator", "name", "role", "start", "end", "field", "field_name", "pass", "job", "rig", "area",
    "products", "guidance_line", "hazards", "waits_for",
)  # fmt: skip


def safe_cell(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def day_list_csv(lists: Iterable[DayList]) -> str:
    """Return one row for every stop of the lists; cells are safe to open in a spreadsheet."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in lists:
        for stop in one.stops:
            products = "; ".join(f"{line.name} {line.rate_text} = {line.amount_text}" for line in stop.loads)
            row = (
                one.day.isoformat(), one.operator, one.name, stop.role, stop.start.isoformat(), stop.end.isoformat(),
                stop.field, stop.field_name, stop.pass_id, stop.job, stop.rig, stop.area_text, products,
                stop.guidance_line, "; ".join(stop.hazards), "; ".join(stop.waits_for),
            )  # fmt: skip
            writer.writerow([safe_cell(str(cell)) for cell in row])
    return out.getvalue()
