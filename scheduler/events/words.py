"""Plain news in words -> a report: ``rain "North Bench" "0.8 in"``, ``done long-acre plant "40 ac"``, ``down planter``.

The words are read against the farm as events changed it (`Situation.farm`), so that added passes are known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, time
from difflib import get_close_matches
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.events.joined import joined
from scheduler.events.lookups import Options, Reader, as_written, new_id, quantity_of
from scheduler.events.planned import Planned, nothing_planned
from scheduler.events.report import Report, clock_of, day_word, find, read_time
from scheduler.events.sentence import NotClear, strict_words
from scheduler.events.situation import Situation
from scheduler.events.spoken import DIGITS
from scheduler.events.verbs import ELSEWHERE, KNOWN_AHEAD, SPOKEN_USAGE, VERBS, WRONG
from scheduler.farm.altered import Part
from scheduler.farm.farm import Farm
from shared.errors import ReportRefused
from shared.vocabulary import EventKind, Fitness


class _Words(Reader):
    """The verbs of reports, against one farm."""

    def rain(self, where: str, amount: str | None = None) -> tuple[EventKind, dict[str, Any]]:
        if amount is None:
            where, amount = "all", where
        place = None if where.casefold() in ("all", "farm") else self.field(where)
        body = {"field": place, "rain_mm": quantity_of(amount, "rain_mm", "rain")}
        return EventKind.RAIN_MEASURED, body | self.since()

    def started(self, where: str, what: str) -> tuple[EventKind, dict[str, Any]]:
        place = self.field(where)
        return EventKind.PASS_STARTED, {"field": place, "pass_id": self.pass_id(place, what)} | self.who()

    def paused(self, where: str, what: str) -> tuple[EventKind, dict[str, Any]]:
        place = self.field(where)
        who = {key: value for key, value in self.who().items() if key == "operator"}
        return EventKind.PASS_PAUSED, {
            "field": place, "pass_id": self.pass_id(place, what), "why": self.why(),
        } | who  # fmt: skip

    def done(self, where: str, what: str, area: str | None = None) -> tuple[EventKind, dict[str, Any]]:
        if area is None:
            return self.finished(where, what)
        place = self.field(where)
        body = {
            "field": place,
            "pass_id": self.pass_id(place, what),
            "area_ha": quantity_of(area, "area_ha", "area"),
        }
        return EventKind.PASS_PROGRESSED, body | self.who() | self.worked_times()

    def finished(self, where: str, what: str) -> tuple[EventKind, dict[str, Any]]:
        place = self.field(where)
        who = {key: value for key, value in self.who().items() if key == "operator"}
        return EventKind.PASS_FINISHED, {"field": place, "pass_id": self.pass_id(place, what)} | who

    def cancel(self, where: str, what: str) -> tuple[EventKind, dict[str, Any]]:
        place = self.field(where)
        return EventKind.PASS_CANCELLED, {
            "field": place,
            "pass_id": self.pass_id(place, what),
            "why": self.why(),
        }

    def down(self, what: str) -> tuple[EventKind, dict[str, Any]]:
        return EventKind.MACHINE_DOWN, {
            "machine": self.machine(what),
            "start": self.later_start(),
            "until": self.until(),
            "why": self.why(),
        }

    def away(self, who: str) -> tuple[EventKind, dict[str, Any]]:
        return EventKind.OPERATOR_ABSENT, {
            "operator": self.operator(who),
            "start": self.later_start(),
            "until": self.until(),
            "why": self.why(),
        }

    def back(self, what: str) -> tuple[EventKind, dict[str, Any]]:
        known = {one.id: one.label for one in self.farm.machines}
        known |= {one.id: one.label for one in self.farm.operators}
        name = find("machine or operator", what, known)
        if name in self.farm.machine_by_id:
            return EventKind.MACHINE_BACK, {"machine": name}
        return EventKind.OPERATOR_BACK, {"operator": name}

    def hire(self, name: str, _like: str, like: str) -> tuple[EventKind, dict[str, Any]]:
        machine = self.farm.machine_by_id[self.machine(like)]
        new = machine.model_copy(update={"id": new_id(name), "name": name})
        body = {"machine": new.model_dump(mode="json", exclude_none=True), "like": machine.id}
        return EventKind.MACHINE_ADDED, body | {"start": self.later_start(), "until": self.until()}

    def join(self, name: str, _like: str, like: str) -> tuple[EventKind, dict[str, Any]]:
        person = self.farm.operator_by_id[self.operator(like)]
        new = person.model_copy(update={"id": new_id(name), "name": name})
        body = {"operator": new.model_dump(mode="json", exclude_none=True)}
        return EventKind.OPERATOR_ADDED, body | {"start": self.later_start(), "until": self.until()}

    def again(self, where: str, what: str, name: str) -> tuple[EventKind, dict[str, Any]]:
        place = self.field(where)
        return EventKind.PASS_ADDED, {
            "field": place, "like": self.pass_id(place, what), "pass_id": new_id(name),
        }  # fmt: skip

    def hours(self, who: str, span: str, *days: str) -> tuple[EventKind, dict[str, Any]]:
        start, end = (clock_of(part.strip()) for part in (*span.split("-", 1), "")[:2])
        if start is None or end is None:
            raise ReportRefused(f"the hours {span!r} cannot be read; allowed: a span such as 06:00-21:00.")
        person = self.farm.operator_by_id[self.operator(who)]
        named = [self.shift_day(day.strip()) for day in days[0].split(",")] if days else []
        shifts = person.with_hours(time.fromisoformat(start), time.fromisoformat(end), named)
        return EventKind.FARM_CHANGED, {
            "part": Part.OPERATOR.value, "name": person.id, "values": {"shift": shifts}, "why": self.why(),
        }  # fmt: skip

    def change(self, part: str, name: str, *rest: str) -> tuple[EventKind, dict[str, Any]]:
        known = [one.value for one in Part]
        if part not in known:
            raise ReportRefused(f"{part!r} is nothing that can be changed; allowed: {', '.join(known)}.")
        if part == Part.PLAN:
            name, rest = "", (name, *rest)
        elif part in (Part.MACHINE, Part.OPERATOR, Part.FIELD, Part.PRODUCT):
            name = ",".join(str(getattr(self, part)(one)) for one in name.split(","))
        if not rest or len(rest) % 2:
            raise ReportRefused(f"a change needs pairs of key and value; write: {VERBS['change'][0]}.")
        values = {key: as_written(key, value) for key, value in zip(rest[::2], rest[1::2], strict=True)}
        return EventKind.FARM_CHANGED, {"part": part, "name": name, "values": values, "why": self.why()}

    def delivered(self, what: str, amount: str, *delivery: str) -> tuple[EventKind, dict[str, Any]]:
        named = delivery[0] if delivery else None
        return EventKind.SUPPLY_DELIVERED, self.of_product(what, amount) | {"delivery": named}

    def counted(self, what: str, amount: str) -> tuple[EventKind, dict[str, Any]]:
        return EventKind.SUPPLY_COUNTED, self.of_product(what, amount) | {"why": self.why()}

    def late(self, what: str, delivery: str, day: str) -> tuple[EventKind, dict[str, Any]]:
        if not day_word(day):
            raise ReportRefused(
                f"the date {day!r} cannot be read; allowed: a date such as 2027-05-12, or fri."
            )
        new_date = read_time(day, self.now, self.zone, "date").date().isoformat()
        return EventKind.SUPPLY_DELAYED, {
            "product": self.product(what),
            "delivery": delivery,
            "new_date": new_date,
        }

    def ground(self, where: str, verdict: str, *pass_id: str) -> tuple[EventKind, dict[str, Any]]:
        allowed = [one.value for one in Fitness]
        if verdict not in allowed:
            raise ReportRefused(f"the verdict {verdict!r} is not known; allowed: {', '.join(allowed)}.")
        place = self.field(where)
        named = self.pass_id(place, pass_id[0]) if pass_id else None
        return EventKind.GROUND_CHECKED, {"field": place, "verdict": verdict, "pass_id": named}

    def stage(self, where: str, name: str) -> tuple[EventKind, dict[str, Any]]:
        return EventKind.STAGE_SCOUTED, {"field": self.field(where), "stage": name.upper()}

    def height(self, where: str, height: str) -> tuple[EventKind, dict[str, Any]]:
        return EventKind.STAGE_SCOUTED, {
            "field": self.field(where), "height_m": quantity_of(height, "length_m", "height"),
        }  # fmt: skip

    def tissue(self, where: str, value: str) -> tuple[EventKind, dict[str, Any]]:
        in_pct = f"{value} %" if DIGITS.fullmatch(value) else value
        share = quantity_of(in_pct, "share", "tissue result")
        return EventKind.TISSUE_SAMPLED, {"field": self.field(where), "value_pct": share * 100}

    def pin(self, where: str, what: str) -> tuple[EventKind, dict[str, Any]]:
        place, at = self.field(where), self.options.get("at")
        if not at:
            raise ReportRefused('a pin needs its time; add --at "2027-05-12 07:00".')
        pass_id = self.pass_id(place, what)
        start = read_time(at, self.now, self.zone, "time of the pin")
        body: dict[str, Any] = {"pin": f"{place}:{pass_id}", "field": place, "pass_id": pass_id}
        return EventKind.BLOCK_PINNED, body | {"start": start.isoformat()} | self.who()

    def unpin(self, pin: str) -> tuple[EventKind, dict[str, Any]]:
        return EventKind.BLOCK_UNPINNED, {"pin": pin}


def report_from_words(
    words: Sequence[str],
    options: Options,
    farm: Farm,
    now: datetime,
    situation: Situation | None = None,
    planned: Planned = nothing_planned,
) -> Report:
    """Return the report that the words make.

    Parameters
    ----------
    words : sequence of str
        A verb of `VERBS` and what belongs to it.
    options : mapping
        ``until``, ``at`` (farm-local times), ``by``, ``rig``, ``operator``, ``why``, ``id``.
    farm : Farm
    now : datetime
        When it is said.
    situation : Situation, optional
        How far the work is: what is left of it can then be said, and whose turn it is.
    planned : callable
        What people were to do; which pass of a field it is may then be left out.

    Raises
    ------
    ReportRefused
        The words make no report; the message says what is allowed.
    """
    try:
        return strict_report(words, options, farm, now)
    except ReportRefused as error:
        refused = error
        together = [words[0], *joined(words[1:], farm)]
        if together != list(words):
            try:
                return strict_report(together, options, farm, now)
            except ReportRefused as other:
                refused = other
        try:
            local = now.astimezone(ZoneInfo(farm.time_zone))
            plain, more = strict_words(words, options, farm, local, situation, planned)
        except NotClear as unclear:
            raise _unclear(words, refused, unclear) from None
        return strict_report(plain, more, farm, now)


def _unclear(words: Sequence[str], refused: ReportRefused, unclear: NotClear) -> ReportRefused:
    """Return the refusal that helps most: of the words as they stand, or of what was not clear in the sentence."""
    first, said = words[0].casefold(), " ".join(words)
    elsewhere = next((how for topic, how in ELSEWHERE if topic.search(unclear.strange)), None)
    if elsewhere is not None and first not in VERBS:
        return ReportRefused(f"{said!r} is not clear; {elsewhere}.")
    if first in WRONG or unclear.unknown.casefold() == first or (first in VERBS and unclear.unknown):
        return refused
    if first in VERBS and "takes other words" not in str(refused):
        return refused
    usage = f"one of {', '.join(VERBS)}"
    if unclear.verb:
        usage = SPOKEN_USAGE.get(unclear.verb) or VERBS[unclear.verb][0]
    return ReportRefused(f"{said!r} is not clear: {unclear}; write: {usage}.")


def strict_report(words: Sequence[str], options: Options, farm: Farm, now: datetime) -> Report:
    """As `report_from_words`, of words that a program put together: nothing is read otherwise than it stands."""
    verb, args = words[0].casefold(), list(words[1:])
    if verb in ("hire", "join") and len(args) == 3 and args[1].casefold() != "like":
        raise ReportRefused(f"{verb!r} takes other words; write: {VERBS[verb][0]}.")
    if verb not in VERBS:
        near = ["correct"] if verb in WRONG else get_close_matches(verb, list(VERBS), n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}? " if near else ""
        raise ReportRefused(f"{words[0]!r} is no kind of news; {hint}known: {', '.join(VERBS)}.")
    usage, least, most = VERBS[verb]
    if not least <= len(args) <= most:
        raise ReportRefused(f"{verb!r} takes other words; write: {usage}.")
    reader = _Words(farm, options, now)
    head = {"by": options.get("by") or "", "id": options.get("id") or ""}
    at = options.get("at")
    happened = now if not at or verb == "pin" else read_time(at, now, reader.zone)
    if verb in KNOWN_AHEAD:
        happened = min(happened, now)
    if verb == "correct":
        return _correction(args, options, farm, now, happened, head)
    method: Callable[..., tuple[EventKind, dict[str, Any]]] = getattr(reader, verb)
    kind, body = method(*args)
    return Report(kind, {key: value for key, value in body.items() if value is not None}, happened, **head)


def _correction(
    args: list[str], options: Options, farm: Farm, now: datetime, happened: datetime, head: dict[str, str]
) -> Report:
    event_id, rest = args[0], args[1:]
    body: dict[str, Any] = {"event_id": event_id, "why": options.get("why") or ""}
    if rest != ["nothing"]:
        inner = report_from_words(rest, {**options, "id": None}, farm, now)
        body |= {"body": inner.body, "kind": inner.kind.value}
    return Report(EventKind.EVENT_CORRECTED, body, happened, **head)
