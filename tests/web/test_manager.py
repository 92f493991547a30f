"""The manager's pages: what they show is what plan, ground and log say; what is done on them becomes events."""

from __future__ import annotations

import re
import time
from html import unescape

import pytest
from starlette.testclient import TestClient

from scheduler.planning.wording import when
from scheduler.planning.worry_groups import gathered
from scheduler.windows.ledger import best_fit
from scheduler.wiring.issued import DRAFT
from scheduler.wiring.news import read_state
from scheduler.wiring.office import Office
from scheduler.wiring.plans_known import latest_plan
from shared.errors import FitgroundError
from shared.parcel import Parcel
from tests.service.farms import at
from tests.web.conftest import Clock
from tests.web.test_door import form_token

HTMX = {"HX-Request": "true"}


def words(html: str) -> str:
    """Return a page as a person reads it."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def finished(client: TestClient, answer: str, seconds: float = 60) -> str:
    """Follow a job's part until it is done."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = re.search(r'hx-get="(/jobs/\w+)"', answer)
        if found is None:
            return answer
        time.sleep(0.3)
        answer = client.get(found.group(1), headers=HTMX).text
    raise AssertionError("the job did not end")


def test_the_morning_names_everybodys_work_in_one_language(manager: TestClient, office: Office) -> None:
    text = words(manager.get("/").text)
    plan = latest_plan(office.workspace)
    assert plan is not None
    farm = office.workspace.farm
    for block in plan.of_day(at(10, "05:00").date()):
        assert f"{block.start:%H:%M}–{block.end:%H:%M} {farm.field_by_id[block.field].label}" in text
    for worry in gathered(plan.worries, farm):
        assert worry.text in text
    for item in plan.ready:
        assert item.text in text
    assert "Sembrar" not in text and "fitground advises; people decide" in text


def test_news_then_a_plan_then_one_button_issues_it(manager: TestClient, office: Office) -> None:
    token, told = form_token(manager), []
    office.hand_out = lambda parcels, now: told.extend(parcels)
    before = latest_plan(office.workspace)
    manager.post(
        "/news", data={"form_token": token, "words": "away oskari", "until": "2027-05-12 00:00", "why": "ill"}
    )
    page = manager.get("/").text
    assert "1 piece of news is not planned in yet" in words(page)
    part = finished(manager, manager.post("/plan", data={"form_token": token}, headers=HTMX).text)
    assert "A new plan is there" in words(part) and "Nobody was told of it" in words(part)
    assert latest_plan(office.workspace) == before and told == []
    page = words(manager.get("/").text)
    assert "This plan is not issued yet" in page and "What changed, and why Oskari is away" in page
    assert manager.post("/issue", data={"form_token": token}).status_code == 200
    after = latest_plan(office.workspace)
    assert after is not None and before is not None and after.id != before.id
    assert not [b for b in after.of_operator("oskari") if b.start < at(12, "00:00")]
    assert "oskari" in {parcel.to for parcel in told if isinstance(parcel, Parcel)}
    assert office.workspace.book.mark(DRAFT) == ""


def test_a_plan_older_than_the_news_is_not_issued(manager: TestClient, office: Office) -> None:
    token = form_token(manager)
    finished(manager, manager.post("/plan", data={"form_token": token}, headers=HTMX).text)
    manager.post("/news", data={"form_token": token, "words": 'rain all "0.5 in"'})
    answer = manager.post("/issue", data={"form_token": token})
    assert answer.status_code == 422 and "plan again before you issue it" in answer.text
    with pytest.raises(FitgroundError, match="plan again"):
        office.issue_draft()
    manager.post("/drop", data={"form_token": token})
    assert "no plan waits" in manager.post("/issue", data={"form_token": token}).text.lower()


def test_a_spade_test_changes_the_ground_at_once(manager: TestClient, office: Office) -> None:
    view = office.view()
    before = best_fit(view.outlook, ("north-bench", "band"))
    part = manager.post(
        "/ground/north-bench/spade", headers={**HTMX, "X-Form-Token": form_token(manager)}, data={"verdict": "unfit", "pass_id": "band"}
    ).text  # fmt: skip
    after = best_fit(office.view().outlook, ("north-bench", "band"))
    assert before is not None and after is not None
    assert float(after.chance[5:20].sum()) < float(before.chance[5:20].sum()) - 1
    assert "The spade test is in" in words(part)
    assert any(check.field_id == "north-bench" for check in office.view().situation.checks)


def test_the_ground_page_says_of_each_field_what_the_odds_say(manager: TestClient, office: Office) -> None:
    page, view = manager.get("/ground").text, office.view()
    for field in view.situation.farm.fields:
        assert field.label in page
    assert page.count("<polygon") == len(view.situation.farm.fields)
    detail = words(manager.get("/ground/sand-loop").text)
    assert "heavy, tracks" in detail and "Put a spade in it" in detail


def test_a_field_shows_its_passes_and_takes_another_seed(manager: TestClient, office: Office) -> None:
    plan = latest_plan(office.workspace)
    assert plan is not None
    page = words(manager.get("/ground/alder-bottom").text)
    for block in plan.blocks:
        if block.field == "alder-bottom":
            assert f"{when(block.start)}, " in page
    assert "Plant corn to do" in page and "Hybrid 99 34,000 seeds/ac" in page
    assert "Seed soybeans" not in page  # The seed of another crop is no choice.
    manager.post("/ground/alder-bottom/seed", data={"form_token": form_token(manager), "seed": "corn-seed"})
    assert office.view().situation.farm.field_by_id["alder-bottom"].seed == "corn-seed"
    page = words(manager.get("/ground/alder-bottom").text)
    assert "Seed corn 34,000 seeds/ac" in page and "Another seed than Seed corn" in page
    assert "Alder Bottom: seed corn-seed from now on" in words(manager.get("/news").text)
    planted = words(manager.get("/ground/upper-mill").text)
    assert "Another seed" not in planted and "Band nitrogen done" in planted


def test_a_block_says_why_and_its_pin_is_priced_kept_and_taken_out(
    manager: TestClient, office: Office
) -> None:
    plan = latest_plan(office.workspace)
    assert plan is not None
    block = next(
        b
        for b in plan.blocks
        if b.start > at(11, "05:00") and b.start < at(12, "20:00") and b.pass_id == "plant"
    )
    page = manager.get("/days", params={"block": block.id}).text
    assert block.why_then in words(page)
    token = form_token(manager)
    asked = {
        "form_token": token,
        "block": block.id,
        "start": f"{at(13, '08:00'):%Y-%m-%dT%H:%M}",
        "operator": block.operator,
    }
    part = finished(manager, manager.post("/days/price", data=asked, headers=HTMX).text)
    said = re.search(r"That costs \$([\d,]+)", words(part))
    assert said is not None, words(part)
    assert latest_plan(office.workspace) == plan and not office.view().situation.pins
    job = re.search(r'name="job" value="(\w+)"', part)
    assert job is not None
    part = finished(
        manager,
        manager.post("/days/keep", data={"form_token": token, "job": job.group(1)}, headers=HTMX).text,
    )
    assert "A new plan is there" in words(part)
    (pin,) = office.view().situation.pins
    assert (pin.field_id, pin.pass_id, pin.start) == (block.field, block.pass_id, at(13, "08:00"))
    finished(
        manager, manager.post("/days/unpin", data={"form_token": token, "pin": pin.pin}, headers=HTMX).text
    )
    assert not office.view().situation.pins


def test_nonsense_is_one_sentence(manager: TestClient, office: Office) -> None:
    token, before = form_token(manager), office.workspace.log.last_sequence()
    plan = latest_plan(office.workspace)
    assert plan is not None
    block = plan.blocks[-1].id
    for where, data, said in (
        ("/news", {"words": "flood everything"}, "is no kind of news"),
        ("/news", {"words": 'rain all "99 in"'}, "cannot be right"),
        ("/news", {"words": 'rain all "0.5'}, "quotation mark is open"),
        ("/news", {"words": "   "}, "Nothing was said"),
        ("/news/withdraw", {"event": "nothing-like-it"}, "there is no report"),
        ("/stores/nothing", {"amount": "5 gal", "what": "counted"}, "no product"),
        ("/stores/corn-seed", {"amount": "5 gal", "what": "counted"}, "amount '5 gal'"),
        ("/stores/corn-seed", {"amount": "5 bags", "what": "lost"}, "what"),
        ("/ground/nowhere/spade", {"verdict": "fit"}, "no field"),
        ("/ground/sand-loop/spade", {"verdict": "soggy"}, "verdict"),
        ("/ground/nowhere/seed", {"seed": "corn-seed"}, "no field"),
        ("/ground/heron/seed", {"seed": "corn-seed"}, "is sown in fields of corn too"),
        ("/ground/heron/seed", {"seed": "n32"}, "is no seed"),
        ("/days/price", {"block": block, "start": "soon"}, "is no time"),
        ("/days/price", {"block": block, "start": "2027-05-01T07:00"}, "that time is over"),
        ("/days/price", {"block": "gone", "start": "2027-05-12T07:00"}, "not in the plan any more"),
        ("/what-if", {"ways": "\n".join(["away oskari"] * 9)}, "allowed: 1 to 8"),
        ("/crew-links/nobody/revoke", {}, "nobody"),
    ):
        answer = manager.post(where, data={"form_token": token, **data})
        assert 400 <= answer.status_code < 500, where
        assert said.lower() in words(answer.text).lower(), (where, words(answer.text))
        assert "Traceback" not in answer.text
    assert office.workspace.log.last_sequence() == before
    assert manager.get("/ground/nowhere").status_code == 404


def test_a_report_is_taken_out_and_the_log_keeps_both(manager: TestClient, office: Office) -> None:
    token = form_token(manager)
    manager.post("/news", data={"form_token": token, "words": 'rain all "0.5 in"'})
    (event,) = [event for event in read_state(office.workspace).told.values() if event.by == "manager"]
    assert len(office.view().situation.rain) == 1
    anew = manager.get("/news", params={"anew": event.id}).text
    assert f'value="correct {event.id} "' in anew
    assert 'value=""' in manager.get("/news", params={"anew": '"><script>'}).text
    page = manager.post("/news/withdraw", data={"form_token": token, "event": event.id})
    assert "corrected" in words(page.text)
    assert office.view().situation.rain == ()
    assert len(read_state(office.workspace).told) >= 2


def test_what_is_counted_in_the_shed_stands_in_the_stores_from_then_on(
    manager: TestClient, office: Office
) -> None:
    assert "Counted otherwise" in words(manager.get("/stores").text)
    data = {"form_token": form_token(manager), "amount": "60 bags", "what": "counted"}
    after = words(manager.post("/stores/corn-seed", data=data).text)
    assert "Seed corn order " in after and "60 bags there" in after
    assert "Counted: 60 bags of Seed corn there".casefold() in words(manager.get("/news").text).casefold()
    data |= {"amount": "1,000 bags", "what": "delivered"}
    assert "1,060 bags there" in words(manager.post("/stores/corn-seed", data=data).text)


def test_what_a_person_should_know_of_a_report_stands_beside_it(manager: TestClient, office: Office) -> None:
    told = {"form_token": form_token(manager), "words": "tove can't come tomorrow, planter fixed"}
    page = words(manager.post("/news", data=told).text)
    assert "Note: Planter 12 was not reported down; noted all the same." in page
    assert "Tove is away from Tue 11 May" in page
    assert len(office.workspace.log.read()) >= 2


def test_a_what_if_compares_with_today(manager: TestClient) -> None:
    token = form_token(manager)
    ways = 'hire "Second planter" like planter-12 cost "900 $/day"\naway tove until "2027-05-20 00:00"'
    started = manager.post("/what-if", data={"form_token": token, "ways": ways}, headers=HTMX).text
    assert "is being worked on" in started
    busy = manager.post("/plan", data={"form_token": token}, headers=HTMX)
    assert "please wait" in busy.text
    text = words(finished(manager, started, 120))
    assert "As it stands" in text and "away tove" in text and "$" in text


def test_a_demand_is_answered_with_yes_or_with_what_stands_against_it(
    manager: TestClient, office: Office
) -> None:
    page = words(manager.get("/what-if").text)
    assert "Can it be done by then?" in page and "must PASS" in page
    token, before = form_token(manager), office.workspace.log.last_sequence()
    asked = "plant in sand-loop by sat\nplant in far-west by 2027-05-11"
    started = manager.post("/can", data={"form_token": token, "demands": asked}, headers=HTMX).text
    text = words(finished(manager, started, 120))
    assert "Plant soybeans in Sand Loop by the end of Sat 15 May?" in text
    assert "No plan does all of it by then: that is proved." in text and "Far West" in text
    assert "the plan that people work by stays" in text
    wrong = manager.post("/can", data={"form_token": token, "demands": "plant by"}, headers=HTMX).text
    assert "does not say what is to be done by when" in words(finished(manager, wrong, 60))
    many = manager.post("/can", data={"form_token": token, "demands": "plant by sat\n" * 9})
    assert "allowed: 1 to 8" in words(many.text)
    assert office.workspace.log.last_sequence() == before


def test_windows_stores_and_season_add_up(manager: TestClient, office: Office) -> None:
    view = office.view()
    windows = " ".join(
        words(manager.get(f"/windows?show={group}&skip={skip}").text)
        for group in ("now", "later", "closed")
        for skip in range(0, 200, 40)
    )
    for key in view.outlook.windows:
        if view.situation.left_ha(*key) > 0.1:
            assert view.situation.farm.field_by_id[key[0]].label in windows
    now = words(manager.get("/windows").text)
    assert "Plant corn" in now and "Side-dress" not in now
    stores = words(manager.get("/stores").text)
    assert "19.6 bags short" in stores and "Cover seed mix order before the last fields" in stores
    season = words(manager.get("/season").text)
    assert "Plant: 168 ac of 1,730 ac (10%)" in season


def test_today_moves_on_and_pages_follow(manager: TestClient, office: Office, clock: Clock) -> None:
    manager.get("/")
    first = office.view()
    assert office.view() is first
    clock.now = at(10, "05:20")
    assert office.view() is not first
    clock.now = at(11, "06:00")
    assert "Tuesday 11 May" in manager.get("/").text


def test_fit_days_behind_are_used_or_missed(manager: TestClient, office: Office, clock: Clock) -> None:
    """A week on, in the weather that came: the days on which planting could run, less the one on which it did."""
    token = form_token(manager)
    clock.now = at(11, "18:00")
    manager.post("/news", data={"form_token": token, "words": 'done sand-loop plant "30 ac"'})
    manager.post("/news", data={"form_token": token, "words": "ilse planted 40 ac in kiln from 1 to 5 pm"})
    assert "Pace of machines" not in manager.get("/season").text
    clock.now = at(17, "18:00")
    back = office.looking_back(14)
    assert back is not None and back.first_day == at(3, "00:00").date()
    fit = [
        max(int((hours.chance[24 * k : 24 * k + 24] >= 0.5).sum()) for (_, p), kinds in back.fit.items() if p == "plant" for hours in kinds.values())
        for k in range(14)
    ]  # fmt: skip
    days = sum(count >= 4 for count in fit)
    assert 1 <= days <= 13
    used = fit[8] >= 4
    text = words(manager.get("/season").text)
    missed = days - used
    assert f"1 day with work reported, {missed} fit day" in text
    assert re.search(
        r"Pace of machines Planter 12 has taken \d+% longer than the farm file says \(1 report\); plans count on",
        text,
    )


def test_pictures_and_the_week_board_are_there_to_take_along(manager: TestClient, office: Office) -> None:
    field = office.workspace.farm.fields[0].id
    for address in ("week.svg", "machines.svg", "windows.svg", "progress.svg", f"water.svg?field={field}"):
        found = manager.get(f"/pictures/{address}")
        assert found.status_code == 200 and found.headers["content-type"].startswith("image/svg+xml")
        assert found.headers["content-disposition"].startswith("attachment") and "<svg" in found.text
    assert manager.get("/pictures/water.svg?field=moon").status_code == 404
    assert manager.get("/pictures/moon.svg").status_code == 422
    assert manager.get("/week.pdf").content.startswith(b"%PDF")
    manager.cookies.clear()
    for address in ("/week.pdf", "/pictures/week.svg"):
        stranger = manager.get(address, follow_redirects=False)
        assert stranger.status_code == 303 and stranger.headers["location"].startswith("/sign-in")
