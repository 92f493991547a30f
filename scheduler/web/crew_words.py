"""What the buttons of the crew's page mean as events, and their words in the person's language."""

from __future__ import annotations

from typing import Any

from scheduler.crew.language import Words
from scheduler.crew.notes import pass_name
from scheduler.events.decide import Decision
from scheduler.events.lookups import quantity_of
from scheduler.events.skipped import skipped_before
from scheduler.farm.farm import Farm
from scheduler.farm.operator import Operator
from scheduler.planning.plan import PlanBlock
from scheduler.wiring.office import View
from shared.errors import ReportRefused
from shared.vocabulary import EventKind, Fitness

EXAMPLES = {"rain_mm": ("0.4 in", "10 mm"), "area_ha": ("40 ac", "16 ha")}
TEXTS = (
    "Start", "Pause", "Area done", "Finished", "Rain in the gauge", "Too wet", "Rig trouble", "Out of product", "Send", "Cancel",
    "Why?", "How much?", "waiting to be sent", "sent", "refused", "No network: the list stays, reports are kept and sent later.",
    "Photo (may be left out)", "Everything is sent.", "Day before", "Next day", "Take care", "note", "Hitch", "Load for the day", "Report", "Calendar",
)  # fmt: skip


def page_words(words: Words) -> dict[str, str]:
    """Return the page's words by their English text."""
    return {text: words(text) for text in TEXTS}


def report_of(
    view: View, person: Operator, what: str, block: PlanBlock | None, amount: str, note: str
) -> tuple[EventKind, dict[str, Any]]:
    """Return kind and body of what a button said of a block.

    Raises
    ------
    ReportRefused
        The block is not this person's, or the amount cannot be read.
    """
    farm = view.situation.farm
    if what == "rain":
        place = None if block is None else block.field
        return EventKind.RAIN_MEASURED, {
            "field": place,
            "rain_mm": _amount(amount, farm.units, "rain_mm", "in", "mm"),
        }
    if block is None:
        raise ReportRefused("this job is not on your list any more; load the page again.")
    where = {"field": block.field, "pass_id": block.pass_id}
    if what == "start":
        return EventKind.PASS_STARTED, where | _who(block, person)
    if what == "pause":
        return EventKind.PASS_PAUSED, where | {"operator": person.id, "why": note}
    if what == "area":
        area = _amount(amount, farm.units, "area_ha", "ac", "ha")
        return EventKind.PASS_PROGRESSED, where | _who(block, person) | {"area_ha": area}
    if what == "finished":
        return EventKind.PASS_FINISHED, where | {"operator": person.id}
    if what == "too_wet":
        return EventKind.GROUND_CHECKED, where | {"verdict": Fitness.UNFIT.value}
    if what == "rig_trouble":
        if not block.machines:
            raise ReportRefused("this job needs no machine.")
        return EventKind.MACHINE_DOWN, {"machine": _named(view, block, amount), "why": note}
    return _out_of(view, block, note)


def notes_on(view: View, decision: Decision, block: PlanBlock | None, words: Words) -> tuple[str, ...]:
    """Return what is to be said of a report that was taken; in another language what can be said in it."""
    if words.language == "en" or block is None or not decision.notes:
        return tuple(f"{note[:1].upper()}{note[1:]}." for note in decision.notes)
    farm, finished = view.situation.farm, decision.record.kind == EventKind.PASS_FINISHED
    specs = [farm.spec(block.field, name) for name in skipped_before(view.situation, block.field, block.pass_id, finished)]  # fmt: skip
    line, place = (
        "{job} in {place}: not reported done, though work that comes after it is.",
        farm.field_label(block.field),
    )
    return tuple(words(line, job=pass_name(spec, words), place=place) for spec in specs if spec is not None)


def refusal_text(refused: ReportRefused, words: Words, farm: Farm, block: PlanBlock | None) -> str:
    """Return why a report was not taken; where the reason is known in English only, what to do in the person's language first."""
    if words.language == "en":
        return str(refused)
    if words(refused.text) == refused.text:
        return f"{words('Ask whoever plans:')} {refused}"
    about = dict(refused.about)
    spec = None if block is None else farm.spec(block.field, block.pass_id)
    if "job" in about and spec is not None:
        about["job"] = pass_name(spec, words)
    return words(refused.text, **about)


def _who(block: PlanBlock, person: Operator) -> dict[str, Any]:
    return {"operator": person.id} | ({"rig": block.rig} if block.rig is not None else {})


def _with_unit(amount: str, system: str, us: str, metric: str) -> str:
    """Return an amount with the farm's unit where a person typed a bare number; a decimal comma is read as well."""
    text = amount.strip().replace(",", ".")
    plain = text.replace(".", "", 1).isdigit()
    return f"{text} {us if system == 'us' else metric}" if plain else text


def _amount(typed: str, system: str, kind: str, us: str, metric: str) -> float:
    """Return what a person typed in SI."""
    try:
        return quantity_of(_with_unit(typed, system, us, metric), kind, kind)
    except ReportRefused as error:
        example = EXAMPLES[kind][system != "us"]
        raise ReportRefused(
            "{written!r} cannot be read; write for example {example}.", written=typed, example=example
        ) from error


def _named(view: View, block: PlanBlock, name: str) -> str:
    """Return the machine that has trouble: the one named, else the one that drives."""
    return name if name in block.machines else block.machines[0]


def _out_of(view: View, block: PlanBlock, note: str) -> tuple[EventKind, dict[str, Any]]:
    """Out of product: nothing is there, whatever the books say."""
    farm = view.situation.farm
    spec = farm.spec(block.field, block.pass_id)
    products = [one.product for one in spec.products] if spec is not None else []
    if not products:
        raise ReportRefused("this job takes no product.")
    return EventKind.SUPPLY_COUNTED, {"product": products[0], "amount": 0.0, "why": note}
