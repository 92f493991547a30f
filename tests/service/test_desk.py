"""The desk of a real farm: a search that dies, hangs or talks nonsense; bad farm files; days without a forecast; fifty phones."""

from __future__ import annotations

import shutil
import sys
import threading
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

import scheduler.wiring.plan_apart as apart
from scheduler.events.report import Report
from scheduler.planning.checker import check_plan
from scheduler.wiring.desk import FarmDesk
from scheduler.wiring.issued import last_changes
from scheduler.wiring.mornings import look_ahead
from scheduler.wiring.news import read_state, take
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.service import open_service
from scheduler.wiring.status import status
from scheduler.wiring.workspace import open_farm
from shared.errors import FitgroundError
from shared.vocabulary import EventKind
from tests.contracts.event_log import record
from tests.service.farms import at, wet_week


def no_search(*_: object) -> tuple[None, str]:
    """Stand in for a planner that always fails, so that a test need not wait for searches."""
    return None, "left out in this test"


def silent(_text: str, _facts: object) -> None:
    """Say nothing."""


def script(folder: Path, text: str) -> str:
    """Return a program that does `text` whatever it is asked."""
    path = folder / "python"
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(0o755)
    return str(path)


@pytest.mark.parametrize(
    ("does", "said"),
    [
        ("kill -9 $$", "signal 9"),
        ("sleep 60", "no answer after"),
        ("echo 'fitground plan: {\"plan\": 7'", "cannot be read"),
        ("echo nothing", "cannot be read"),
        ("echo 'MemoryError' >&2; exit 1", "MemoryError"),
    ],
)
def test_when_the_search_dies_the_simple_rules_plan_goes_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, does: str, said: str
) -> None:
    folder = wet_week(tmp_path)
    monkeypatch.setattr(sys, "executable", script(tmp_path, does))
    monkeypatch.setattr(apart, "START_S", 0.0)
    monkeypatch.setattr("scheduler.wiring.desk.START_S", 0.0)
    service, desk = open_service(folder, silent, {}, seconds=0.5)
    service.look(at(10, "05:01"))
    plan = latest_plan(desk.workspace)
    assert plan is not None and plan.method == "rule" and plan.blocks
    (note,) = [note for note in plan.notes if "The search failed" in note]
    assert said in note
    situation, outlook = look_ahead(desk.workspace, at(10, "05:01"))
    assert not check_plan(plan, situation, outlook)
    lists = folder / "lists" / "2027-05-10"
    assert {path.stem for path in lists.iterdir()} == {"all", "ilse", "benat", "oskari", "tove"}
    assert any("simple rule" in text for text in status(desk.workspace, at(10, "05:05")).needs)


def test_a_search_apart_gives_the_engines_plan_and_only_whom_news_touches_hears_of_it(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    service, desk = open_service(folder, silent, {}, seconds=1.0)
    service.look(at(10, "05:01"))
    first = latest_plan(desk.workspace)
    assert first is not None and first.method == "engine"
    body = {
        "operator": "oskari",
        "start": at(10, "05:30").isoformat(),
        "until": at(11, "00:00").isoformat(),
        "why": "ill",
    }
    take(
        desk.workspace,
        Report(EventKind.OPERATOR_ABSENT, body, at(10, "05:30"), "ilse", "page"),
        at(10, "05:30"),
    )
    shutil.rmtree(folder / "lists")
    service.look(at(10, "05:31"))
    assert latest_plan(desk.workspace) == first
    service.look(at(10, "05:35"))
    second = latest_plan(desk.workspace)
    assert second is not None and second.id != first.id and second.log_sequence > first.log_sequence
    told = {path.stem for path in (folder / "lists" / "2027-05-10").iterdir()}
    assert {"all", "oskari"} <= told
    changed = {
        person for person in ("ilse", "benat", "tove")
        if [(b.start, b.field) for b in first.of_operator(person) if b.start.date() == at(10, "05:00").date() and b.end > at(10, "05:35")]
        != [(b.start, b.field) for b in second.of_operator(person) if b.start.date() == at(10, "05:00").date() and b.end > at(10, "05:35")]
    }  # fmt: skip
    assert changed <= told


def test_of_two_services_on_one_farm_one_issues(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    one, desk = open_service(folder, silent, {}, planner=no_search)
    other, _ = open_service(folder, silent, {}, planner=no_search)
    for minute in range(0, 10):
        now = at(10, "05:00") + timedelta(minutes=minute)
        assert one.look(now) == (["weather", "issue", "hand out"] if minute == 0 else [])
        assert other.look(now) == []
    assert len(desk.workspace.shelf.last(9)) == 1
    # The first one dies without a word: within two minutes the other takes over, and issues nothing twice.
    for minute in range(10, 14):
        other.look(at(10, "05:00") + timedelta(minutes=minute))
    assert len(desk.workspace.shelf.last(9)) == 1
    assert "weather" in other.look(at(11, "05:00")) or len(desk.workspace.shelf.last(9)) == 2
    assert one.look(at(11, "05:00")) == []


def test_a_farm_file_with_faults_leaves_the_old_farm_in_force_and_is_said(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    service, desk = open_service(folder, silent, {}, planner=no_search)
    service.look(at(10, "05:01"))
    text = (folder / "farm.toml").read_text()
    time.sleep(0.01)
    (folder / "farm.toml").write_text(text.replace('time_zone = "', 'time_zone = "Mars/'))
    service.look(at(11, "05:01"))
    assert len(desk.workspace.shelf.last(9)) == 2
    assert "farm.toml" in desk.trouble and "stays in force" in desk.trouble
    (folder / "farm.toml").write_text(text)
    service.look(at(12, "05:01"))
    assert desk.trouble == ""


def test_a_week_without_any_forecast_still_has_a_checked_plan_every_morning_with_wider_odds(
    tmp_path: Path,
) -> None:
    folder = wet_week(tmp_path)
    with_one = open_farm(folder)
    _, sure = look_ahead(with_one, at(10, "05:00"))
    with_one.database.close()
    for path in folder.glob("fitground.sqlite*"):
        path.unlink()
    shutil.rmtree(folder / "weather" / "forecasts")
    service, desk = open_service(folder, silent, {}, planner=no_search)
    for day in range(10, 17):
        service.look(at(day, "05:00"))
    plans = desk.workspace.shelf.last(20)
    assert len(plans) == 7
    plan = latest_plan(desk.workspace)
    assert plan is not None and plan.forecast_issued_at is None
    _, unsure = look_ahead(desk.workspace, at(10, "05:00"))
    assert any("past years stand in" in note for note in unsure.notes)
    assert "There is no forecast" in " ".join(status(desk.workspace, at(16, "06:00")).needs)

    def doubt(outlook: object) -> float:
        """Mean p(1-p) of the fit hours of the first three days."""
        rows = [hours.chance[:72] for rigs in outlook.fit.values() for hours in rigs.values()]  # type: ignore[attr-defined]
        chance = np.concatenate(rows)
        return float(np.mean(chance * (1 - chance)))

    assert doubt(unsure) > 1.2 * doubt(sure)


def test_a_forecast_that_stops_coming_is_used_until_it_runs_out_and_its_age_is_said(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    service, desk = open_service(folder, silent, {}, planner=no_search)
    service.look(at(10, "05:00"))
    shutil.rmtree(folder / "weather" / "forecasts")
    service.look(at(12, "05:00"))
    plan = latest_plan(desk.workspace)
    assert plan is not None and plan.forecast_issued_at == at(10, "04:30")
    assert any("48 hours old" in worry.text for worry in plan.worries)
    _, outlook = look_ahead(desk.workspace, at(12, "05:00"))
    assert any(note.startswith("no new forecast") for note in outlook.notes)


def test_fifty_phones_report_at_once_and_all_is_planned_in_once(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    service, desk = open_service(folder, silent, {}, planner=no_search)
    service.look(at(10, "05:00"))
    now, heard = at(10, "12:00"), []

    def phone(number: int) -> None:
        space = open_farm(folder)
        for k in range(2):
            body = {"rain_mm": 1.0 + k, "field": "sand-loop"}
            report = Report(EventKind.RAIN_MEASURED, body, now, f"p{number}", "page", f"phone-{number}-{k}")
            for _ in range(2):
                heard.append(take(space, report, now).record.id)
        space.database.close()

    phones = [threading.Thread(target=phone, args=(n,)) for n in range(50)]
    for one in phones:
        one.start()
    for one in phones:
        one.join()
    assert len(heard) == 200
    told = [key for key in read_state(desk.workspace).told if key.startswith("phone-")]
    assert sorted(told) == sorted({*heard})
    assert len(told) == 100
    service.look(now)
    service.look(now + timedelta(minutes=3))
    plan = latest_plan(desk.workspace)
    assert plan is not None and plan.log_sequence == desk.news_end()
    assert len(desk.workspace.shelf.last(9)) == 2


def test_work_begun_is_news_only_where_the_plan_does_not_have_it(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    service, desk = open_service(folder, silent, {}, planner=no_search)
    service.look(at(10, "05:00"))
    plan = latest_plan(desk.workspace)
    assert plan is not None
    today = [b for b in plan.blocks if b.start.date() == at(10, "05:00").date()]
    one = today[0]
    now = one.start + timedelta(minutes=5)

    def begin(field: str, pass_id: str, who: str) -> None:
        body = {"field": field, "pass_id": pass_id, "operator": who}
        take(desk.workspace, Report(EventKind.PASS_STARTED, body, now, who, "page", f"{field}-{who}"), now)

    begin(one.field, one.pass_id, one.operator)
    assert desk.news_end() <= plan.log_sequence
    assert status(desk.workspace, now).unplanned == 0
    # Somebody else goes, or somebody goes to a field that is not on today's list.
    other = next(
        b
        for b in plan.blocks
        if b.start.date() > one.start.date()
        and (b.field, b.pass_id) not in {(t.field, t.pass_id) for t in today}
        and b.operator == one.operator
    )
    begin(other.field, other.pass_id, other.operator)
    assert desk.news_end() > plan.log_sequence
    assert status(desk.workspace, now).unplanned == 1
    service.look(now)
    service.look(now + timedelta(minutes=3))
    after = latest_plan(desk.workspace)
    assert after is not None and after.id != plan.id and desk.news_end() <= after.log_sequence
    found = next(b for b in after.blocks if b.under_way and b.operator == one.operator)
    assert (found.field, found.pass_id) == (other.field, other.pass_id)
    changes = last_changes(desk.workspace)
    assert changes is not None
    assert any(row.event_id == f"{other.field}-{other.operator}" and row.direct for row in changes.rows)


def test_a_poison_event_in_the_log_is_named_and_the_rest_goes_on(tmp_path: Path) -> None:
    folder = wet_week(tmp_path)
    service, desk = open_service(folder, silent, {}, planner=no_search)
    desk.workspace.log.append(
        [replace(record("poison"), kind="from the future"), record("worse", version=99)]
    )
    service.look(at(10, "05:00"))
    assert latest_plan(desk.workspace) is not None
    needs = " ".join(status(desk.workspace, at(10, "05:05")).needs)
    assert "event poison" in needs and "event worse" in needs


def test_a_farm_without_weather_is_one_sentence_and_the_service_goes_on(tmp_path: Path) -> None:
    folder, said = wet_week(tmp_path), []
    (folder / "weather" / "observed.csv").unlink()
    service, _ = open_service(
        folder, lambda text, facts: said.append((text, dict(facts))), {}, planner=no_search
    )
    service.look(at(10, "05:00"))
    (why,) = [facts["why"] for text, facts in said if text == "issue failed"]
    assert "observed.csv" in why and "\n" not in why
    with pytest.raises(FitgroundError):
        FarmDesk(tmp_path / "nowhere")
