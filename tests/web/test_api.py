"""The programs' door against its own public description: schemathesis, bounded, finds no answer of 500 and none undescribed."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import Any

import schemathesis
from hypothesis import HealthCheck, given, settings
from starlette.testclient import TestClient

from scheduler.planning.plan import Plan
from scheduler.web.app import make_app
from scheduler.wiring.news import read_state
from scheduler.wiring.office import Office
from scheduler.wiring.plans_known import latest_plan
from tests.web.conftest import PASSWORD
from tests.web.test_door import form_token


def test_the_description_is_public_and_names_every_path(visitor: TestClient) -> None:
    told = visitor.get("/api/openapi.json").json()
    assert told["openapi"].startswith("3.")
    assert set(told["paths"]) == {
        "/api/v1/health", "/api/v1/status", "/api/v1/plan", "/api/v1/fit", "/api/v1/fields/{field}", "/api/v1/news", "/crew/{link}/report",
        "/api/v1/ways", "/api/v1/can", "/api/v1/jobs/{job}",
    }  # fmt: skip
    assert visitor.get("/api/v1/health").json() == {"ok": True}


def test_the_plan_comes_as_it_lies_on_the_shelf(manager: TestClient, office: Office) -> None:
    assert Plan.model_validate(manager.get("/api/v1/plan").json()) == latest_plan(office.workspace)
    assert manager.get("/api/v1/plan?draft=true").status_code == 404


def test_a_report_by_program_is_judged_like_any_other(manager: TestClient, office: Office) -> None:
    head = {"X-Form-Token": form_token(manager)}
    said = {"id": "gauge-7-0001", "kind": "rain_measured", "body": {"field": "sand-loop", "rain_mm": 4.5}}
    first = manager.post("/api/v1/news", json=said, headers=head)
    assert (first.status_code, first.json()["known"]) == (201, False)
    assert manager.post("/api/v1/news", json=said, headers=head).json()["known"] is True
    wrong = said | {"id": "x", "body": {"field": "nowhere", "rain_mm": 4.5}}
    answer = manager.post("/api/v1/news", json=wrong, headers=head)
    assert answer.status_code == 422 and "nowhere" in answer.json()["error"]
    assert manager.post("/api/v1/news", json=said).status_code == 403
    for kind in ("plan_issued", "forecast_received"):
        assert (
            manager.post("/api/v1/news", json=said | {"id": kind, "kind": kind}, headers=head).status_code
            == 422
        )
    assert "gauge-7-0001" in read_state(office.workspace).facts


def finished(manager: TestClient, work: dict[str, Any]) -> dict[str, Any]:
    """Ask after a piece of work until it is done."""
    until = time.monotonic() + 120.0
    while not work["done"] and time.monotonic() < until:
        time.sleep(0.1)
        work = manager.get(f"/api/v1/jobs/{work['id']}").json()
    assert work["done"] and work["error"] == "", work
    return work


def test_long_work_by_program(manager: TestClient, office: Office) -> None:
    """Whether something can be done by a time, ways side by side, and a new plan that waits as a draft."""
    head = {"X-Form-Token": form_token(manager)}
    plan = latest_plan(office.workspace)
    assert plan is not None
    block = plan.blocks[0]
    asked = {"demands": [f"{block.pass_id} in {block.field} by {plan.made_at.date() + timedelta(days=12)}"]}
    begun = manager.post("/api/v1/can", json=asked, headers=head)
    assert begun.status_code == 202
    # One piece of long work at a time: a second one is refused in a sentence.
    other = manager.post("/api/v1/plan", headers=head)
    assert other.status_code == 422 and "please wait" in other.json()["error"]
    answer = finished(manager, begun.json())
    assert answer["kind"] == "can" and answer["result"]["can"] is True
    ways = {"ways": [["out planter until 2027-05-14"], ['longer all "2 h"']]}
    rows = finished(manager, manager.post("/api/v1/ways", json=ways, headers=head).json())["result"]
    assert {row["name"] for row in rows} == {
        "As it stands",
        "out planter until 2027-05-14",
        'longer all "2 h"',
    }
    made = finished(manager, manager.post("/api/v1/plan", headers=head).json())["result"]
    assert Plan.model_validate(made) == Plan.model_validate(manager.get("/api/v1/plan?draft=true").json())
    assert manager.post("/api/v1/can", json=asked).status_code == 403
    assert manager.post("/api/v1/can", json={"demands": []}, headers=head).status_code == 422
    assert manager.get("/api/v1/jobs/nothing").status_code == 404


def test_no_request_within_the_description_is_answered_with_500(office: Office) -> None:
    app = make_app(office, writes_a_minute=100_000)
    client = TestClient(app, raise_server_exceptions=False)
    client.post("/welcome", data={"password": PASSWORD, "again": PASSWORD})
    head = {"Cookie": f"fitground={client.cookies['fitground']}", "X-Form-Token": form_token(client)}
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", app)
    seen: dict[int, int] = {}

    def ask(case: schemathesis.Case) -> None:
        answer = case.call(headers=head)
        seen[answer.status_code] = seen.get(answer.status_code, 0) + 1
        assert answer.status_code < 500, (case.method, case.path, answer.text[:300])

    bounded = settings(
        max_examples=15, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )  # fmt: skip
    for found in schema.get_all_operations():
        bounded(given(case=found.ok().as_strategy())(ask))()
    assert seen.get(200, 0) > 10 and sum(seen.values()) > 60
