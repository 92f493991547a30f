"""Season odds in words and rows, for a screen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from textwrap import wrap

from scheduler.farm.farm import Farm
from scheduler.whatif.season import WaySummary
from scheduler.whatif.tell import short_name
from shared.units import to_people

WIDTH = 100
SURE = 2.0
"""A difference of two standard errors is called sure (95 in 100 for a normal law)."""


def season_text(
    question: str, found: Sequence[WaySummary], farm: Farm, as_of: str, again: Sequence[time] = ()
) -> str:
    """Return the answer of a season study; the first way is the present one. `again`: hours at which days were planned anew."""
    out = [question or "Season odds", "=" * WIDTH, as_of, ""]
    if not found:
        return "\n".join([*out, "No spring was played to the end yet.", ""])
    out += [f"   {'':<30} {'loss, mean':>11} {'1 in 10 below':>14} {'1 in 10 above':>14}   against now"]
    for place, one in enumerate(found, 1):
        line = f"{place:>2} {short_name(one.name):<30} {_money(one.mean):>11} {_money(one.p10):>14} {_money(one.p90):>14}"
        out.append(f"{line}   {_against(one) if place > 1 else 'now'}")
    for place, one in enumerate(found, 1):
        out += ["", f"{place:>2} {one.name}", *_passes(one, farm), *_wettest(one, farm), *_people(one, farm)]
    springs = found[0].springs
    hours = "".join(f" and at {clock:%H:%M}" for clock in sorted(again))
    out += ["", *wrap(
        f"Over {springs} springs, each way in the same ones, planned every morning{hours} on forecasts of a stated skill. A gain "
        "is given with its standard error; where it is below twice that, more springs are needed to tell. What is left at the "
        "end counts as never done, in every way alike; the road is not counted.", WIDTH), "fitground advises; people decide.", ""]  # fmt: skip
    return "\n".join(line.rstrip() for line in out)


def _money(value: float) -> str:
    return f"${value:,.0f}"


def _against(one: WaySummary) -> str:
    word = "saves" if one.saves >= 0 else "costs"
    sure = "" if abs(one.saves) >= SURE * one.saves_error else ", not sure"
    return f"{word} ${abs(one.saves):,.0f} +- {one.saves_error:,.0f}{sure}"


def _day(text: str | None) -> str:
    return "-" if text is None else f"{date.fromisoformat(text):%d %b}"


def _passes(one: WaySummary, farm: Farm) -> list[str]:
    order = list(dict.fromkeys(spec.id for programme in farm.programmes for spec in programme.passes))
    out = [
        f"   {'':<26} {'all done':>9} {'early':>8} {'middle':>8} {'late':>8} {'left then':>12} {'fit days':>9} {'used':>5}"
    ]
    for name in sorted(one.finished, key=lambda key: order.index(key) if key in order else 99):
        share, early, middle, late = one.finished[name]
        left, unit = to_people(one.left_ha.get(name, 0.0), "area_ha", farm.units)
        out.append(
            f"   {farm.pass_label(name):<26.26} {share:>8.0%}  {_day(early):>8} {_day(middle):>8} {_day(late):>8} "
            f"{left:>8,.0f} {unit:<3} {one.fit_days.get(name, 0.0):>8.1f} {one.used_days.get(name, 0.0):>5.1f}"
        )
    return out


def _wettest(one: WaySummary, farm: Farm) -> list[str]:
    """Return how the spring with the most rain went."""
    row = one.wettest
    rain, unit = to_people(row.get("rain_mm", 0.0), "rain_mm", farm.units)
    left = [
        f"{farm.pass_label(key.partition(':')[2])} {_area(value, farm)}"
        for key, value in row.items()
        if key.startswith("left_ha:") and isinstance(value, float) and value > 0.05
    ]
    told = f"left at its end: {', '.join(left)}" if left else "everything got done"
    text = f"The wettest spring ({rain:.0f} {unit} of rain): loss {_money(row['total'])}, {told}."
    return wrap(text, WIDTH - 2, initial_indent="   ", subsequent_indent="     ")


def _area(value: float, farm: Farm) -> str:
    area, unit = to_people(value, "area_ha", farm.units)
    return f"{area:,.0f} {unit}"


def _people(one: WaySummary, farm: Farm) -> list[str]:
    names = {person.id: person.label for person in farm.operators}
    said = [
        f"{names.get(key, key)} {hours:,.0f} h ({one.overtime.get(key, 0.0):,.0f} over)"
        for key, hours in one.hours.items()
        if hours >= 0.5
    ]
    return wrap(f"Hours: {', '.join(said)}.", WIDTH - 2, initial_indent="   ", subsequent_indent="     ")
