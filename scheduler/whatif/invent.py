"""A wish becomes invented reports, a tilt of the weather and money owed anyway; nothing is stored.

Everything that is an event of the farm goes through the same door as real news (`events.decide`), so a change that
could not happen is refused with the same sentence.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.events.report import FUTURE_TOLERANCE, Report, find, read_time
from scheduler.events.situation import FieldPass, Situation
from scheduler.events.words import report_from_words
from scheduler.whatif.costs import Price, read_price
from scheduler.whatif.custom import applicator
from scheduler.whatif.demand import read_demands
from scheduler.whatif.invent_hours import longer, weekday
from scheduler.whatif.invented import Invented, changed
from scheduler.whatif.tilt import Tilt
from scheduler.whatif.wish import Wish
from shared.errors import ReportRefused
from shared.units import UnitFault, parse
from shared.vocabulary import EventKind, Operation

RAIN_FACTOR_MOST = 5.0


def invent(wish: Wish, situation: Situation, now: datetime) -> Invented:
    """Return what a wish comes to, for a farm as it stands after the wishes before it.

    Raises
    ------
    ReportRefused
        It makes no sense for this farm; the sentence names the line.
    """
    try:
        return _MAKERS.get(wish.verb, _as_report)(wish, situation, now)
    except ReportRefused as error:
        text = str(error)
        raise (
            error if text.startswith("what-if") else ReportRefused(f"what-if {wish.line!r}: {text}")
        ) from error


def _options(wish: Wish, situation: Situation, now: datetime) -> dict[str, str | None]:
    tails = wish.tails
    return {
        "at": tails.get("from") or tails.get("on"),
        "until": tails.get("until"),
        "why": tails.get("why", "what if"),
    }


def _as_report(wish: Wish, situation: Situation, now: datetime) -> Invented:
    """A word that reports know too; ``all`` stands for every person."""
    verb = {"out": "down"}.get(wish.verb, wish.verb)
    options = _options(wish, situation, now)
    if verb == "hours" and wish.words and wish.words[0].casefold() == "all":
        people = [person.id for person in situation.farm.operators]
        return Invented(
            tuple(
                report_from_words([verb, name, *wish.words[1:]], options, situation.farm, now)
                for name in people
            )
        )
    report = report_from_words([verb, *wish.words], options, situation.farm, now)
    if "cost" not in wish.tails:
        return Invented((report,))
    if verb not in ("hire", "join"):
        raise ReportRefused("a cost goes with hire, join and custom only.")
    price = read_price(wish.tails["cost"])
    start, until = _span(wish, situation, now)
    return Invented((_priced(report, price),), price=price, start=start, until=until)


def _priced(report: Report, price: Price) -> Report:
    body = dict(report.body)
    if report.kind is EventKind.MACHINE_ADDED:
        machine = dict(body["machine"])
        machine["cost_per_h"] = machine.get("cost_per_h", 0.0) + price.per_h
        machine["cost_per_ha"] = machine.get("cost_per_ha", 0.0) + price.per_ha
        body["machine"] = machine
    else:
        body["operator"] = {**body["operator"], "wage_per_h": price.per_h}
    return replace(report, body=body)


def _span(wish: Wish, situation: Situation, now: datetime) -> tuple[datetime, datetime | None]:
    local = ZoneInfo(situation.farm.time_zone)
    start, until = wish.tails.get("from"), wish.tails.get("until")
    return (
        read_time(start, now, local, "start") if start else now,
        read_time(until, now, local, "end") if until else None,
    )


def _custom(wish: Wish, situation: Situation, now: datetime) -> Invented:
    price = read_price(wish.words[1])
    fields = tuple(_field(situation, name) for name in wish.fields)
    start, until = _span(wish, situation, now)
    machine, driver = applicator(situation.farm, wish.words[0], fields, price)
    when = {"start": _ahead(start, now), "until": until.isoformat() if until else None}
    kept = {key: value for key, value in when.items() if value is not None}
    reports = (
        Report(EventKind.OPERATOR_ADDED, {"operator": driver.model_dump(mode="json", exclude_none=True)} | kept, now),
        Report(EventKind.MACHINE_ADDED, {"machine": machine.model_dump(mode="json", exclude_none=True)} | kept, now),
    )  # fmt: skip
    return Invented(reports, price=price, start=start, until=until)


def _ahead(start: datetime, now: datetime) -> str | None:
    return start.isoformat() if start > now + FUTURE_TOLERANCE else None


def _field(situation: Situation, text: str) -> str:
    return find("field", text, {one.id: one.label for one in situation.farm.fields})


def _machine(situation: Situation, text: str) -> str:
    return find("machine", text, {one.id: one.label for one in situation.farm.machines})


def _tracks(wish: Wish, situation: Situation, now: datetime) -> Invented:
    name = _machine(situation, wish.words[0])
    return Invented((changed(name, "machine", {"tracks": wish.verb == "tracks"}, now),))


def _tile(wish: Wish, situation: Situation, now: datetime) -> Invented:
    return Invented((changed(_field(situation, wish.words[0]), "field", {"tiled": True}, now),))


def _drop(wish: Wish, situation: Situation, now: datetime) -> Invented:
    wanted = {_field(situation, name) for name in wish.fields}
    keys = [key for key in situation.passes if key[1] == wish.words[0] and (not wanted or key[0] in wanted)]
    known = sorted({key[1] for key in situation.passes})
    if not keys:
        raise ReportRefused(f"no such field has a pass {wish.words[0]!r}; known passes: {', '.join(known)}.")
    left = [key for key in keys if situation.left_ha(*key) > 0]
    return Invented(tuple(_cancelled(key, now) for key in left), dropped=tuple(left))


def _cancelled(key: tuple[str, str], now: datetime) -> Report:
    body = {"field": key[0], "pass_id": key[1], "why": "what if"}
    return Report(EventKind.PASS_CANCELLED, body, now, source="what if")


def _give_up(wish: Wish, situation: Situation, now: datetime) -> Invented:
    place = _field(situation, wish.words[0])
    keys = [key for key in situation.passes if key[0] == place and situation.left_ha(*key) > 0]
    # A crop never planted is one loss, not that of every pass it would have had.
    plants = [key for key in keys if _plants(situation, key)]
    return Invented(tuple(_cancelled(key, now) for key in keys), dropped=tuple(plants or keys))


def _plants(situation: Situation, key: FieldPass) -> bool:
    spec = situation.farm.spec(*key)
    return spec is not None and Operation.PLANT in spec.operations


def _crop(wish: Wish, situation: Situation, now: datetime) -> Invented:
    place = _field(situation, wish.words[0])
    programmes = {one.id: one.id for one in situation.farm.programmes}
    programme = find("programme", wish.words[1], programmes)
    crop = situation.farm.programme_by_id[programme].crop
    crop = wish.words[2] if len(wish.words) > 2 else crop
    values: dict[str, Any] = {"programme": programme, "crop": crop}
    if len(wish.words) > 3:
        values["expected_yield"] = wish.words[3]
    elif crop != situation.farm.field_by_id[place].crop:
        values["expected_yield"] = _usual_yield(situation, crop)
    kept = {key: value for key, value in values.items() if value}
    field = situation.farm.field_by_id[place]
    # A seed and rates of the field's own belong to its old programme.
    kept |= ({"seed": ""} if field.seed else {}) | ({"rates": []} if field.rates else {})
    return Invented((changed(place, "field", kept, now),))


def _usual_yield(situation: Situation, crop: str) -> str:
    """Return the mean expected yield of the farm's own fields of a crop, as written in a file."""
    known = [(f.expected_yield_t_per_ha, f.area_ha) for f in situation.farm.fields if f.crop == crop]
    sure = [(y, area) for y, area in known if y is not None]
    if not sure:
        raise ReportRefused(
            f'no field of the farm says what {crop} yields; write it last, such as "55 bu/ac".'
        )
    return f"{sum(y * area for y, area in sure) / sum(area for _, area in sure):.3f} t/ha"


def _rain(wish: Wish, situation: Situation, now: datetime) -> Invented:
    text = wish.words[0].replace(" ", "")
    if text.endswith("%"):
        try:
            factor = 1.0 + float(text[:-1]) / 100.0
        except ValueError as error:
            raise ReportRefused(f"{text!r} is no share; allowed: +30%, -30%.") from error
        if not 0.0 <= factor <= RAIN_FACTOR_MOST:
            raise ReportRefused(
                f"{text!r} cannot be; allowed: -100% to +{RAIN_FACTOR_MOST * 100 - 100:.0f}%."
            )
        return Invented(tilt=Tilt(rain_factor=factor))
    if "on" not in wish.tails:
        raise ReportRefused('more rain needs its day; write: rain "1 in" on 2027-05-13.')
    try:
        amount = parse(wish.words[0], "rain_mm")
    except UnitFault as error:
        raise ReportRefused(f"rain {wish.words[0]!r} {error.problem}; allowed: {error.allowed}.") from error
    day = read_time(wish.tails["on"], now, ZoneInfo(situation.farm.time_zone), "day").date()
    return Invented(tilt=Tilt(more_mm=((day, amount),)))


def _must(wish: Wish, situation: Situation, now: datetime) -> Invented:
    return Invented(demands=read_demands(shlex.join(wish.words), situation, now))


_MAKERS: dict[str, Callable[[Wish, Situation, datetime], Invented]] = {
    "custom": _custom, "longer": longer, "shorter": longer, "off": weekday, "on": weekday, "tracks": _tracks, "wheels": _tracks, "tile": _tile,
    "drop": _drop, "give-up": _give_up, "crop": _crop, "rain": _rain, "must": _must,
}  # fmt: skip
