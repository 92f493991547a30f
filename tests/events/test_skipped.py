"""Work reported while work before it was not: asked for at once, and no more once it is told or cancelled.

No outside source: a farm by hand; bands come after terminating, planting after bands (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduler.events.skipped import skipped, unreported_before
from scheduler.planning.worries import CLOSED, SKIPPED, worries
from tests.crew.builders import morning
from tests.events.builders import Told, at


def notes_of(told: Told) -> str:
    assert told.last is not None
    return "; ".join(told.last.notes)


def test_planting_finished_asks_for_the_bands_and_they_for_the_cover() -> None:
    told = Told()
    told.say(at(1, "19:00"), "done", "f1", "plant")
    assert notes_of(told) == "band, which comes before it, is not reported done there; if it is, say so"
    assert unreported_before(told.at(at(1, "20:00"))) == [("f1", "band")]
    told.say(at(1, "19:05"), "done", "f1", "band")
    assert unreported_before(told.at(at(1, "20:00"))) == [("f1", "terminate")], (
        "the bands came after the cover's end"
    )
    told.say(at(1, "19:10"), "cancel", "f1", "terminate")
    assert unreported_before(told.at(at(1, "20:00"))) == [] and notes_of(told) == ""


def test_work_that_goes_on_side_by_side_is_in_order_until_the_later_one_is_finished() -> None:
    told = Told()
    told.say(at(0, "09:00"), "done", "f1", "terminate")
    told.say(at(0, "12:00"), "done", "f1", "band", "8 ha")
    told.say(at(1, "12:00"), "done", "f1", "plant", "6 ha")
    assert notes_of(told) == "" and skipped(told.at(at(1, "13:00"))) == {}
    told.say(at(1, "18:00"), "done", "f1", "plant", "14 ha")
    assert "band, which" in notes_of(told), "20 ha are planted, 8 banded"
    assert skipped(told.at(at(1, "19:00"))) == {("f1", "plant"): ("band",)}


def test_a_rounded_area_says_both() -> None:
    told = Told()
    told.say(at(1, "19:00"), "done", "f1", "plant", "20.3 ha")
    assert "only 49.4 ac was left" in notes_of(told) and "band, which comes before it" in notes_of(told)


def test_a_start_before_its_turn_is_noted_and_asks_for_nothing_yet() -> None:
    told = Told()
    told.say(at(0, "09:00"), "started", "f1", "plant")
    assert "is not reported done there" in notes_of(told)
    assert skipped(told.at(at(0, "10:00"))) == {}
    told.say(at(0, "10:00"), "done", "f2", "terminate")
    assert notes_of(told) == "", "nothing comes before the first pass"


def test_done_without_an_area_is_all_of_it() -> None:
    told = Told()
    told.say(at(0, "12:00"), "done", "f1", "terminate", operator="ann")
    state = told.at(at(0, "13:00")).passes["f1", "terminate"]
    assert state.finished and state.done_ha == 20.0 and state.last_operator == "ann"


def test_a_plan_asks_instead_of_saying_that_the_window_closed() -> None:
    plan, situation, outlook = morning()
    field, pass_id, before = next(
        (field, name, spec.after[0].pass_id)
        for field, name in situation.passes
        if (spec := situation.farm.spec(field, name)) is not None
        and spec.after
        and (field, spec.after[0].pass_id) in outlook.windows
    )
    states = {
        key: replace(state, finished=False, done_ha=0.0)
        for key, state in situation.passes.items()
        if key[0] == field
    }
    states[field, pass_id] = replace(states[field, pass_id], finished=True)
    closed = replace(outlook.windows[field, before], closes=plan.first_day - timedelta(days=1))
    late = replace(outlook, windows={**outlook.windows, (field, before): closed})
    told = replace(situation, passes={**situation.passes, **states})
    found = worries(plan, told, late)
    of_it = [worry.line for worry in found if (worry.field, worry.pass_id) == (field, before)]
    assert SKIPPED in of_it and CLOSED not in of_it
    undone = replace(
        told, passes={**told.passes, (field, pass_id): replace(states[field, pass_id], finished=False)}
    )
    of_it = [w.line for w in worries(plan, undone, late) if (w.field, w.pass_id) == (field, before)]
    assert CLOSED in of_it and SKIPPED not in of_it
