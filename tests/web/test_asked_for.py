"""What the manager is asked for: work that nobody reported, or reported before its turn."""

from __future__ import annotations

from datetime import timedelta

from starlette.testclient import TestClient

from scheduler.events.report import Report
from scheduler.wiring.office import Office
from scheduler.wiring.plans_known import latest_plan
from shared.vocabulary import EventKind
from tests.web.conftest import Clock
from tests.web.test_door import form_token
from tests.web.test_manager import words


def test_what_should_be_over_and_nobody_reported_is_asked_for(office: Office, clock: Clock) -> None:
    plan = latest_plan(office.workspace)
    assert plan is not None
    first = min(plan.blocks, key=lambda block: block.end)
    clock.now = first.end + timedelta(hours=1)
    assert not [need for need in office.status().needs if "Nobody has reported" in need]
    clock.now = first.end + timedelta(hours=3)
    # By then more may be over: which plan was found depends on how busy the computer was.
    asked = " ".join(need for need in office.status().needs if "Nobody has reported" in need)
    farm = office.workspace.farm
    assert farm.field_by_id[first.field].label in asked and "which should be over by now" in asked
    for block in plan.blocks:
        if block.end <= clock.now:
            body = {"field": block.field, "pass_id": block.pass_id, "area_ha": block.area_ha}
            told = Report(
                EventKind.PASS_PROGRESSED, body, clock.now, block.operator, "page", f"done-{block.id}"
            )
            office.take(told)
    assert not [need for need in office.status().needs if "Nobody has reported" in need]


def test_work_reported_out_of_turn_asks_for_what_comes_before_it(manager: TestClient, office: Office) -> None:
    situation = office.view().situation
    field = next(f for f, name in situation.passes if name == "plant" and situation.left_ha(f, "band") > 0)
    label = situation.farm.field_by_id[field].label
    manager.post("/news", data={"form_token": form_token(manager), "words": f"done {field} plant"})
    (asked,) = [
        need
        for need in office.status().needs
        if "though work that comes after it is" in need and "Band" in need
    ]
    assert asked == f"Nobody has reported Band nitrogen in {label} done, though work that comes after it is."
    assert asked in words(manager.get("/").text)
    manager.post("/news", data={"form_token": form_token(manager), "words": f"done {field} band"})
    assert not [need for need in office.status().needs if "Band nitrogen" in need]
