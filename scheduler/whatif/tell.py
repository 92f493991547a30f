"""A study's answer in words and rows, ranked, for a screen, a table file or a page."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from textwrap import wrap

from scheduler.whatif.outcome import Outcome, PassOutcome, sure_from
from scheduler.whatif.study import PRESENT
from scheduler.whatif.worth import Worth
from shared.units import to_people

WIDTH = 100
PARTS = {
    "late": "late work", "later": "left to later weeks", "undone": "never done", "dropped": "wished away", "wages": "wages",
    "overtime": "overtime", "road": "road", "running": "machines", "hire": "hire", "risk": "ground not fit",
    "handover": "changes of driver", "change": "changed plans",
}  # fmt: skip
ABOUT = "about the same"
SAME = 1.0
"""Money below which two ways are called equal."""


def ranked(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Return the ways best first; refused ones last."""
    return sorted(outcomes, key=lambda one: (bool(one.refused), one.expected))


def present_of(outcomes: Sequence[Outcome]) -> Outcome:
    """Return the way without changes of its own."""
    return next((one for one in outcomes if one.name == PRESENT), outcomes[0])


def sure_of(outcomes: Sequence[Outcome]) -> float:
    """Return the difference in expected loss that is more than chance between searches [money]."""
    return sure_from(one.expected_apart for one in outcomes if not one.refused)


def against(one: Outcome, present: Outcome, sure: float = SAME) -> str:
    """Return what a way saves or costs against the present one; below `sure` [money] that may be chance."""
    if one is present:
        return ""
    gain = present.expected - one.expected
    if abs(gain) < SAME:
        return "the same"
    if abs(gain) < sure:
        return ABOUT
    return f"saves ${gain:,.0f}" if gain > 0 else f"costs ${-gain:,.0f}"


def finish(row: PassOutcome, units: str) -> str:
    """Return when a pass is finished, or how far it comes."""
    if row.finished_on is not None:
        return f"{row.finished_on:%a %d %b}"
    done, unit = to_people(row.done_ha[-1] if row.done_ha else 0.0, "area_ha", units)
    left, _ = to_people(row.left_ha, "area_ha", units)
    return f"{done:,.0f} of {left:,.0f} {unit}"


def main_passes(outcomes: Sequence[Outcome], most: int = 3) -> list[str]:
    """Return the passes whose end differs between ways, the most different first; else what is worked at all, the largest first."""
    known = [one for one in outcomes if not one.refused]
    spread: dict[str, tuple[int, bool, float]] = {}
    for one in known:
        for row in one.passes:
            ends = {_end(other, row.pass_id) for other in known}
            worked = spread.get(row.pass_id, (0, False, 0.0))[1] or any(row.done_ha)
            spread[row.pass_id] = (len(ends), worked, row.left_ha)
    return sorted(spread, key=lambda name: spread[name], reverse=True)[:most]


def _end(one: Outcome, pass_id: str) -> str:
    row = next((row for row in one.passes if row.pass_id == pass_id), None)
    return "" if row is None else f"{row.finished_on}{round(row.done_ha[-1] if row.done_ha else 0.0)}"


def study_text(question: str, outcomes: Sequence[Outcome], units: str, as_of: str, who: bool = False) -> str:
    """Return the answer for a screen: the table, then each way with its reasons; with `who`, also who does what instead."""
    present, rows = present_of(outcomes), ranked(outcomes)
    out = [question or "What if", "=" * WIDTH, as_of, ""]
    shown, sure = main_passes(outcomes), sure_of(outcomes)
    head = f"   {'':<28} {'loss':>9}  {'against now':<14}" + "".join(f" {name[:16]:<17}" for name in shown)
    out += [head.rstrip()]
    for place, one in enumerate(rows, 1):
        name = f"{place:>2} {short_name(one.name):<28}"
        if one.refused:
            out.append(f"{name} {'-':>9}  cannot be (see below)")
            continue
        mark = "now" if one is present else against(one, present, sure)
        line = f"{name} {'$' + format(one.expected, ',.0f'):>9}  {mark:<14}"
        out.append(line + "".join(f" {_finish_of(one, name, units):<17}" for name in shown))
    for place, one in enumerate(rows, 1):
        first, *rest = _one(one, present, who)
        out += ["", f"{place:>2} {first}", *(f" {line}" for line in rest)]
    chance = f"About the same: less than ${sure:,.0f} apart, which may be chance between two searches."
    out += ["", *([chance] if any(against(one, present, sure) == ABOUT for one in rows if not one.refused) else []),
            "Loss: late and undone work, wages, road, machines and hire, by the plan that would be made.",
            "fitground advises; people decide.", ""]  # fmt: skip
    return "\n".join(line.rstrip() for line in out)


def short_name(name: str) -> str:
    """Return a name that fits a table: of a long one, beginning and end, where ways differ."""
    return name if len(name) <= 28 else f"{name[:12].rstrip()} .. {name[-12:].lstrip()}"


def _finish_of(one: Outcome, pass_id: str, units: str) -> str:
    row = next((row for row in one.passes if row.pass_id == pass_id), None)
    return "done" if row is None else finish(row, units)


def _one(one: Outcome, present: Outcome, who: bool) -> list[str]:
    out = [one.name]
    if one.refused:
        return [*out, *_wrapped(f"cannot be: {one.refused}")]
    said = "; ".join(one.changes)
    out += _wrapped(
        "" if said.casefold() == one.name.replace(" + ", "; ").casefold() else said or "nothing changed"
    )
    if one is not present:
        moved = _money_moved(one, present)
        if moved:
            out += _wrapped(f"Money: {', '.join(moved)}.")
        better = one.total < present.bound
        out += _wrapped("No plan without this change can be as good." if better else "", skip_empty=True)
    else:
        parts = [
            f"{PARTS.get(name, name)} ${value:,.0f}" for name, value in one.money.items() if value >= SAME
        ]
        out += _wrapped(f"Money: {', '.join(parts)}.")
    if one.odds is not None:
        odds = one.odds
        out += _wrapped(
            f"Over {odds.members} possible weathers: expected ${odds.expected:,.0f}, one in ten below ${odds.p10:,.0f}, "
            f"one in ten above ${odds.p90:,.0f}."
        )
        sure = [f"{row.label} {row.chance:.0%}" for row in one.passes if row.chance is not None]
        out += _wrapped(f"Finished in time: {', '.join(sure)}.", skip_empty=not sure)
    if one.missed:
        out += _wrapped("Missed: " + "; ".join(f"{row.text} (${row.loss:,.0f})" for row in one.missed[:3]))
    hours = ", ".join(
        f"{p.label} {p.hours:.0f} h" + (f" ({p.overtime_hours:.0f} over)" if p.overtime_hours >= 0.5 else "")
        for p in one.people
        if p.hours > 0
    )
    out += _wrapped(f"Hours: {hours}.")
    if who and one is not present:
        out += [line for text in _instead(one, present) for line in _wrapped(text)]
    return out


def _money_moved(one: Outcome, present: Outcome) -> list[str]:
    moved = []
    for name in dict.fromkeys([*present.money, *one.money]):
        gap = one.money.get(name, 0.0) - present.money.get(name, 0.0)
        if abs(gap) >= 10:
            moved.append((abs(gap), f"{PARTS.get(name, name)} {'+' if gap > 0 else '-'}${abs(gap):,.0f}"))
    return [text for _, text in sorted(moved, reverse=True)[:6]]


def _instead(one: Outcome, present: Outcome) -> list[str]:
    """Return what each person does in the first two days where it is something else."""
    before = {person.operator: person.first_days for person in present.people}
    return [
        f"{person.label} instead: {'; '.join(person.first_days) or 'nothing in the first two days'}"
        for person in one.people
        if person.first_days != before.get(person.operator, ())
    ]


def _wrapped(text: str, skip_empty: bool = False) -> list[str]:
    if (skip_empty and not text) or not text:
        return []
    return wrap(text, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")


def worth_text(priced: Sequence[Worth], sure_from: float, as_of: str, days: int) -> str:
    """Return what one more of each is worth, for a screen."""
    out = [f"What one more is worth over the coming {days} days and the weeks behind", "=" * WIDTH, as_of, ""]
    dear = [one for one in priced if one.gain >= max(SAME, sure_from)]
    top = max((one.gain for one in dear), default=1.0)
    for one in dear:
        bar = "#" * max(1, round(24 * one.gain / top))
        out.append(f"  ${one.gain:>9,.0f}  {bar:<24}  {one.name}")
    rest = [one.name for one in priced if one.gain < max(SAME, sure_from)]
    if rest:
        text = f"Worth nothing now, or less than the search can tell (${sure_from:,.0f}): {'; '.join(rest)}."
        out += ["", *_wrapped(text)]
    out += ["", *_wrapped("Before the price of the thing itself. Hours people cannot safely work are worth nothing: "
            "tired people have accidents, and local law decides."), ""]  # fmt: skip
    return "\n".join(out)


def study_csv(outcomes: Sequence[Outcome]) -> str:
    """Return one row a way and pass: areas in hectares, money by part, dates in ISO 8601."""
    present = present_of(outcomes)
    parts = list(dict.fromkeys(name for one in outcomes for name in one.money))
    file = io.StringIO()
    sheet = csv.writer(file, lineterminator="\n")
    sheet.writerow(
        ["way", "expected_loss", "against_present", *parts, "pass", "left_ha", "planned_ha", "finished_on", "chance"]
    )  # fmt: skip
    for one in ranked(outcomes):
        head = [one.name, f"{one.expected:.2f}", f"{one.expected - present.expected:.2f}"]
        money = [f"{one.money.get(name, 0.0):.2f}" for name in parts]
        for row in one.passes:
            done = row.done_ha[-1] if row.done_ha else 0.0
            chance = "" if row.chance is None else f"{row.chance:.3f}"
            sheet.writerow([*head, *money, row.pass_id, row.left_ha, done, row.finished_on or "", chance])
    return file.getvalue()
