"""A person's own page: that person's list in that person's language, and nothing of anybody's money."""

from __future__ import annotations

import base64
from datetime import datetime, timedelta
from typing import Any

import pytest
from starlette.testclient import TestClient

from scheduler.events.skipped import skipped_before
from scheduler.web.door import Door
from scheduler.wiring.issued import issue_plan
from scheduler.wiring.mornings import issue, plan_morning
from scheduler.wiring.news import read_state
from scheduler.wiring.office import Office
from scheduler.wiring.plans_known import latest_plan
from shared.vocabulary import EventKind
from tests.service.farms import at
from tests.web.conftest import Clock
from tests.web.test_manager import words

PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 60


@pytest.fixture
def on_tuesday(clock: Clock) -> Clock:
    """Let it be noon."""
    clock.now = at(10, "12:00")
    return clock


def link(office: Office, person: str) -> str:
    return "/crew/" + Door(office.workspace.book).link(person)


def block_of(office: Office, person: str) -> Any:
    plan = latest_plan(office.workspace)
    assert plan is not None
    return next(b for b in plan.of_operator(person) if b.start.date() == at(10, "05:00").date())


def send(client: TestClient, office: Office, person: str, what: str, **more: Any) -> dict[str, Any]:
    told = {
        "id": f"phone-{what}-{len(more.get('amount', ''))}-1",
        "what": what,
        "at": at(10, "11:30").isoformat(),
        **more,
    }
    answer = client.post(f"{link(office, person)}/report", json=told)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def test_the_list_is_the_persons_own_in_the_persons_language(visitor: TestClient, office: Office) -> None:
    ilse, benat = visitor.get(link(office, "ilse")), visitor.get(link(office, "benat"))
    assert 'lang="en"' in ilse.text and 'lang="es"' in benat.text
    assert "Take care" in ilse.text and "Tenga cuidado" in benat.text
    for text in ("Pausa", "Terminado", "Demasiado mojado", "Lluvia en el pluviómetro"):
        assert text in benat.text
    seen = words(benat.text.split('id="words"', 1)[1].split("</script>", 1)[1])
    assert "Superficie hecha" in seen and "Area done" not in seen
    # Cautions stand above the first job.
    assert ilse.text.index("Take care") < ilse.text.index('class="stop"')


def test_no_wages_no_money_nobody_elses_link(visitor: TestClient, office: Office) -> None:
    farm = office.workspace.farm
    for person in farm.operators:
        text = visitor.get(link(office, person.id)).text
        assert "$" not in words(text) and "wage" not in text.lower()
        for other in farm.operators:
            assert (
                other.id == person.id or Door(office.workspace.book).link(other.id).split(".")[0] not in text
            )
    assert visitor.get("/", follow_redirects=False).status_code == 303
    assert visitor.get("/api/v1/plan").status_code == 401
    assert visitor.get(link(office, "ilse") + "x").status_code == 403


def test_a_revoked_link_is_closed_and_the_new_one_opens(visitor: TestClient, office: Office) -> None:
    old = link(office, "ilse")
    assert visitor.get(old).status_code == 200
    Door(office.workspace.book).revoke("ilse")
    assert visitor.get(old).status_code == 403
    told = {"id": "phone-0001", "what": "rain", "at": at(10, "05:00").isoformat(), "amount": "1"}
    assert visitor.post(f"{old}/report", json=told).status_code == 403
    assert visitor.get(link(office, "ilse")).status_code == 200


def test_what_is_sent_twice_counts_once_even_much_later(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    block = block_of(office, "oskari")
    for hours in (0, 1, 30):
        on_tuesday.now = at(10, "12:00").replace(hour=12) if hours == 0 else on_tuesday.now
        assert send(visitor, office, "oskari", "area", block=block.id, amount="12.5")["taken"]
    (event,) = [e for e in read_state(office.workspace).facts.values() if e.kind is EventKind.PASS_PROGRESSED]
    assert event.body.area_ha == pytest.approx(12.5 * 0.40468564224)  # type: ignore[attr-defined]
    assert (event.by, event.happened_at) == ("oskari", at(10, "11:30"))


@pytest.mark.parametrize(
    ("what", "more", "kind"),
    [
        ("finished", {}, EventKind.PASS_FINISHED),
        ("rain", {"amount": "0,4"}, EventKind.RAIN_MEASURED),
        ("too_wet", {}, EventKind.GROUND_CHECKED),
        ("rig_trouble", {"note": "hose burst"}, EventKind.MACHINE_DOWN),
        ("out_of", {"note": "tank is empty"}, EventKind.SUPPLY_COUNTED),
    ],
)
def test_each_button_becomes_its_event(
    visitor: TestClient, office: Office, on_tuesday: Clock, what: str, more: dict[str, str], kind: EventKind
) -> None:
    block = block_of(office, "oskari")
    assert send(visitor, office, "oskari", what, block=block.id, **more)["taken"]
    (event,) = [e for e in read_state(office.workspace).facts.values() if e.by == "oskari"]
    assert event.kind is kind
    situation = office.view().situation
    if what == "rain":
        assert situation.rain[0].rain_mm == pytest.approx(10.16)
    if what == "out_of":
        product = office.workspace.farm.spec(block.field, block.pass_id).products[0].product  # type: ignore[union-attr]
        assert situation.supplies[product].stock == pytest.approx(0, abs=1)
    if what == "rig_trouble":
        assert situation.machine_down[block.machines[0]]


def test_start_and_pause_are_kept_and_make_no_new_plan(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    block, unplanned = block_of(office, "oskari"), office.status().unplanned
    assert send(visitor, office, "oskari", "start", block=block.id)["taken"]
    run = office.view().situation.passes[(block.field, block.pass_id)].running
    assert run is not None and (run.operator, run.rig) == ("oskari", block.rig)
    (line,) = office.status().at_work
    assert line.endswith(": Oskari") and office.workspace.farm.field_by_id[block.field].label in line
    assert send(visitor, office, "oskari", "pause", block=block.id, note="rain")["taken"]
    state = office.view().situation.passes[(block.field, block.pass_id)]
    assert state.running is None and state.paused_at is not None
    kinds = [e.kind for e in read_state(office.workspace).facts.values() if e.by == "oskari"]
    assert kinds == [EventKind.PASS_STARTED, EventKind.PASS_PAUSED]
    assert office.status().unplanned == unplanned


def test_a_report_that_cannot_be_is_refused_with_its_reason(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    mine, other = block_of(office, "oskari"), block_of(office, "ilse")
    said = send(visitor, office, "oskari", "area", block=other.id, amount="10")
    assert not said["taken"] and "not on your list" in said["text"]
    said = send(visitor, office, "oskari", "area", block=mine.id, amount="a lot")
    assert not said["taken"] and "write for example 40 ac" in said["text"]
    said = send(visitor, office, "oskari", "rain", amount="900")
    assert not said["taken"] and "cannot be right" in said["text"]


def later(office: Office, person: str, now: datetime) -> Any:
    """Give a person a block whose pass comes after another one that nobody reported: whoever the plan has for it."""
    plan, situation = latest_plan(office.workspace), office.view().situation
    assert plan is not None
    finished = {key for key, state in situation.passes.items() if state.finished}
    found = next(
        b
        for b in plan.blocks
        if (b.field, b.pass_id) not in finished and skipped_before(situation, b.field, b.pass_id, wholly=True)
    )
    own = found.model_copy(update={"operator": person, "support": None})
    blocks = tuple(own if b.id == found.id else b for b in plan.blocks)
    issue_plan(
        office.workspace, plan.model_copy(update={"id": f"for-{person}", "blocks": blocks, "made_at": now})
    )
    return own


def test_work_before_its_turn_is_asked_for_in_the_persons_language(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    farm = office.workspace.farm
    for person, said in (("ilse", "not reported done"), ("benat", "nadie lo ha anotado como hecho")):
        block = later(office, person, on_tuesday.now)
        answer = send(visitor, office, person, "finished", block=block.id, id=f"phone-{person}")
        assert answer["taken"] and any(said in note for note in answer["notes"])
        if person == "benat":
            assert farm.field_by_id[block.field].label in answer["notes"][0]
        # The same touch once more is answered, and nothing is asked again.
        assert send(visitor, office, person, "finished", block=block.id, id=f"phone-{person}")["notes"] == []
    refused = send(visitor, office, "benat", "finished", block=block.id, id="phone-again")
    place = farm.field_by_id[block.field].label
    assert not refused["taken"] and refused["text"].endswith(
        f" en {place} ya estaba terminado; no se anotó nada."
    )
    odd = send(visitor, office, "benat", "rain", amount="mucha", id="phone-odd")
    assert odd["text"] == "No se puede leer 'mucha'; escriba por ejemplo 0.4 in."
    # What is known in English only comes behind what to do.
    much = send(visitor, office, "benat", "rain", amount="900", id="phone-much")
    assert much["text"].startswith("Pregunte a quien planifica: ") and "cannot be right" in much["text"]


def test_a_phone_that_was_out_of_reach_reports_on_the_list_that_it_holds(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    """A new plan gave the work to nobody or somebody else: what was done is not lost."""
    block, plan = block_of(office, "oskari"), latest_plan(office.workspace)
    assert plan is not None
    left = tuple(one for one in plan.blocks if one.id != block.id)
    issue_plan(office.workspace, plan.model_copy(update={"id": "anew", "blocks": left, "made_at": on_tuesday.now}))  # fmt: skip
    assert block.id not in visitor.get(link(office, "oskari")).text
    assert send(visitor, office, "oskari", "area", block=block.id, amount="10")["taken"]
    assert office.view().situation.passes[(block.field, block.pass_id)].done_ha > 4
    # Somebody else's link does not report on it, and neither does this one when the list is a week old.
    assert not send(visitor, office, "ilse", "area", block=block.id, amount="9", id="phone-ilse")["taken"]
    on_tuesday.now = at(20, "12:00")
    issue_plan(office.workspace, plan.model_copy(update={"id": "much-later", "blocks": left, "made_at": on_tuesday.now}))  # fmt: skip
    assert not send(visitor, office, "oskari", "area", block=block.id, amount="9", id="phone-old")["taken"]


@pytest.mark.parametrize(
    "told",
    [
        {"id": "x", "what": "rain", "at": "2027-05-10T10:00:00Z"},
        {"id": "phone-0001", "what": "dance", "at": "2027-05-10T10:00:00Z"},
        {"id": "phone-0001", "what": "rain", "at": "yesterday"},
        {"id": "phone-0001", "what": "rain", "at": "2027-05-10T10:00:00Z", "wage": 9},
        {"id": "../../etc/x", "what": "rain", "at": "2027-05-10T10:00:00Z"},
        {
            "id": "phone-0001",
            "what": "rig_trouble",
            "at": "2027-05-10T10:00:00Z",
            "photo": "data:text/html;base64,PGI+",
        },
    ],
)
def test_malformed_reports_are_one_sentence(
    visitor: TestClient, office: Office, told: dict[str, Any]
) -> None:
    answer = visitor.post(f"{link(office, 'oskari')}/report", json=told)
    assert answer.status_code == 422
    assert answer.json()["error"].endswith(".")


def test_a_photo_is_kept_beside_the_farm_and_only_pictures_are(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    picture = "data:image/png;base64," + base64.b64encode(PNG).decode()
    told = {"block": block_of(office, "oskari").id, "note": "hose", "photo": picture}
    assert send(visitor, office, "oskari", "rig_trouble", **told)["taken"]
    (kept,) = (office.workspace.folder / "photos").iterdir()
    assert kept.read_bytes() == PNG
    (event,) = [e for e in read_state(office.workspace).facts.values() if e.by == "oskari"]
    assert kept.name in event.body.why  # type: ignore[attr-defined]


def test_too_many_reports_are_put_off_and_a_clock_that_is_off_is_not_believed(
    visitor: TestClient, office: Office, on_tuesday: Clock
) -> None:
    told = {"id": "phone-0009", "what": "rain", "at": at(1, "05:00").isoformat(), "amount": "0.1"}
    assert visitor.post(f"{link(office, 'tove')}/report", json=told).json()["taken"]
    (event,) = [e for e in read_state(office.workspace).facts.values() if e.by == "tove"]
    assert event.happened_at == on_tuesday.now
    codes = {visitor.post(f"{link(office, 'tove')}/report", json=told).status_code for _ in range(130)}
    assert codes == {200, 429}


def test_the_service_worker_covers_these_pages_only(visitor: TestClient) -> None:
    answer = visitor.get("/crew/service-worker.js")
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/javascript")
    assert "http" not in answer.text.replace("https", "http").split("//", 1)[0]


def test_a_persons_calendar_comes_by_the_link_and_unchanged_only_once(
    visitor: TestClient, office: Office
) -> None:
    first = visitor.get(f"{link(office, 'benat')}/calendar.ics")
    assert first.headers["content-type"] == "text/calendar; charset=utf-8"
    plan = latest_plan(office.workspace)
    assert plan is not None and first.text.count("BEGIN:VEVENT") == len(plan.of_operator("benat"))
    again = visitor.get(
        f"{link(office, 'benat')}/calendar.ics", headers={"If-None-Match": first.headers["etag"]}
    )
    assert (again.status_code, again.content) == (304, b"")
    assert visitor.get(f"{link(office, 'benat')}x/calendar.ics").status_code == 403


def test_what_a_plan_of_the_day_takes_as_done_can_be_reported_on_the_phone(
    visitor: TestClient, office: Office, clock: Clock
) -> None:
    """Nobody said a word until the first work was over, when a new plan was made."""
    morning = latest_plan(office.workspace)
    assert morning is not None
    works = [(b.field, b.pass_id) for b in morning.blocks]
    once = [b for b in morning.of_day(morning.first_day) if works.count((b.field, b.pass_id)) == 1]
    over = min(once, key=lambda b: b.end)
    clock.now = over.end + timedelta(minutes=5)
    issue(office.workspace, plan_morning(office.workspace, clock.now, 0.5))
    page = visitor.get(link(office, over.operator)).text
    button = f'data-what="finished" data-block="{over.id}"'
    assert button in page
    again = latest_plan(office.workspace)
    assert again is not None and over.id not in {block.id for block in again.blocks}
    told = send(visitor, office, over.operator, "finished", block=over.id, at=clock.now.isoformat())
    assert told["taken"], told
    assert button not in visitor.get(link(office, over.operator)).text
