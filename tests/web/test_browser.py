"""In a real browser: the manager's morning, a spade, a block dragged and priced, a crew member without a network, the keyboard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("playwright", reason="Playwright is not installed: browser tests are left out")
from playwright.sync_api import Browser, Page, expect

from scheduler.events.kinds import PassProgressed
from scheduler.web.door import Door
from scheduler.wiring.news import read_state
from scheduler.wiring.office import Office
from scheduler.wiring.plans_known import latest_plan
from tests.service.farms import at
from tests.web.browser import Served, browser
from tests.web.conftest import PASSWORD, Clock
from tests.web.test_door import PAGES

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
WAIT_MS = 60_000
expect.set_options(timeout=WAIT_MS)


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    """One browser for all tests here."""
    with browser() as found:
        yield found


@pytest.fixture
def house(office: Office) -> Iterator[Served]:
    """The farm's pages on loopback."""
    found = Served(office)
    yield found
    found.stop()


@pytest.fixture
def site(house: Served) -> str:
    """Their address."""
    return house.address


@pytest.fixture
def faults() -> list[str]:
    """What the browser complained of."""
    return []


@pytest.fixture
def page(chrome: Browser, faults: list[str]) -> Iterator[Page]:
    """A fresh, empty browser on a desktop."""
    context = chrome.new_context(
        viewport={"width": 1280, "height": 900}, timezone_id="America/Chicago", service_workers="allow"
    )
    found = context.new_page()
    found.set_default_timeout(WAIT_MS)
    found.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    found.on("pageerror", lambda error: faults.append(str(error)))
    yield found
    context.close()


def sign_in(page: Page, site: str) -> None:
    """Choose the first password, as on the first visit."""
    page.goto(site)
    page.fill("#password", PASSWORD)
    page.fill("#again", PASSWORD)
    page.click("text=Keep it, and go on")
    expect(page.locator("h1")).to_have_text("Monday 10 May")


def test_from_an_empty_browser_to_an_issued_plan(
    page: Page, site: str, office: Office, faults: list[str]
) -> None:
    before = latest_plan(office.workspace)
    sign_in(page, site)
    page.click("nav >> text=News")
    page.fill("#words", "away oskari")
    page.fill("#until", "2027-05-12 00:00")
    page.click("text=Tell")
    expect(page.locator("tbody tr").first).to_contain_text("Oskari")
    page.click("nav >> text=Morning")
    page.click("#plan")
    expect(page.locator("[role=status] progress")).to_be_visible()
    page.click("#issue")
    expect(page.locator("text=not planned in yet")).to_have_count(0)
    after = latest_plan(office.workspace)
    assert before is not None and after is not None and after.id != before.id
    assert faults == []


def test_a_spade_test_shows_its_effect_without_leaving_the_page(
    page: Page, site: str, office: Office, faults: list[str]
) -> None:
    sign_in(page, site)
    page.goto(f"{site}/ground/north-bench")
    page.select_option("#verdict", "unfit")
    page.click("text=Tell")
    expect(page.locator("[role=status]")).to_contain_text("The spade test is in")
    assert office.view().situation.checks[-1].field_id == "north-bench"
    page.goto(f"{site}/ground")
    row = page.locator("tr", has_text="North Bench")
    expect(row.locator(".word")).to_have_text(re.compile("unfit|marginal"))
    assert faults == []


def test_a_block_dragged_to_another_day_is_priced_and_pinned(
    page: Page, site: str, office: Office, faults: list[str]
) -> None:
    sign_in(page, site)
    plan = latest_plan(office.workspace)
    assert plan is not None
    # Which plan a second of search finds is luck, and one block may have no room on the next day: then another is tried.
    for block in [b for b in plan.blocks if b.start.date() == at(11, "05:00").date()]:
        page.goto(f"{site}/days")
        piece = page.locator(f'[data-block="{block.id}"]').first
        piece.drag_to(page.locator('[data-day="2027-05-12"]').first)
        expect(page.locator("#cost")).to_be_visible()
        if page.locator("#keep").count():
            break
    expect(page.locator("#cost")).to_contain_text("That costs $")
    assert not office.view().situation.pins
    page.click("#keep")
    page.click("#issue")
    expect(page.locator("h1")).to_have_text("Monday 10 May")
    (pin,) = office.view().situation.pins
    assert (pin.field_id, pin.start.date()) == (block.field, at(12, "05:00").date())
    page.goto(f"{site}/days")
    expect(page.locator(".pin").first).to_have_text("pinned")
    assert faults == []


def test_a_report_typed_offline_is_kept_and_counted_once(
    page: Page, house: Served, office: Office, clock: Clock
) -> None:
    """The farm's computer is out of reach, as at the far end of a field; then it is back."""
    clock.now = at(10, "12:00")
    page.set_viewport_size({"width": 320, "height": 640})
    page.goto(f"{house.address}/crew/{Door(office.workspace.book).link('oskari')}")
    page.wait_for_function("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    expect(page.locator("#line")).to_have_text("Everything is sent.")
    house.stop()
    page.locator("button:has-text('Area done')").first.click()
    page.fill("#amount", "20")
    page.click("text=Send")
    expect(page.locator("#line")).to_contain_text("1 waiting to be sent")
    # The list is there without a network, and what was typed survives closing the page.
    page.reload()
    expect(page.locator("h1")).to_contain_text("Oskari")
    expect(page.locator("#line")).to_contain_text("1 waiting to be sent")
    assert not _progress(office)
    house.start()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("#line")).to_have_text("Everything is sent.")
    page.reload()
    expect(page.locator("#line")).to_have_text("Everything is sent.")
    (told,) = _progress(office)
    assert told.area_ha == pytest.approx(20 * 0.40468564224)


def _progress(office: Office) -> list[PassProgressed]:
    return [e.body for e in read_state(office.workspace).facts.values() if isinstance(e.body, PassProgressed)]


def test_a_refusal_is_shown_on_the_phone(page: Page, site: str, office: Office, clock: Clock) -> None:
    clock.now = at(10, "12:00")
    page.goto(f"{site}/crew/{Door(office.workspace.book).link('oskari')}")
    page.locator("button:has-text('Rain in the gauge')").first.click()
    page.fill("#amount", "900")
    page.click("text=Send")
    expect(page.locator("#told")).to_contain_text("cannot be right")


def test_the_list_speaks_spanish(page: Page, site: str, office: Office) -> None:
    page.goto(f"{site}/crew/{Door(office.workspace.book).link('benat')}")
    expect(page.locator("h2").first).to_have_text("Tenga cuidado")
    expect(page.locator("#line")).to_have_text("Todo está enviado.")


def test_a_morning_with_the_keyboard_alone(page: Page, site: str) -> None:
    sign_in(page, site)
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    for _ in range(3):
        page.keyboard.press("Tab")
    expect(page.locator("nav a", has_text="Days")).to_be_focused()
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Two weeks")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.block || ''"):
            break
    page.keyboard.press("Enter")
    expect(page.locator("#chosen")).to_be_visible()


@pytest.mark.parametrize("width", [320, 1280])
def test_no_page_is_wider_than_its_screen_and_touch_targets_are_large(
    page: Page, site: str, office: Office, width: int
) -> None:
    sign_in(page, site)
    page.set_viewport_size({"width": width, "height": 800})
    crew = f"/crew/{Door(office.workspace.book).link('ilse')}"
    for where in (*PAGES, crew):
        page.goto(site + where)
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert over <= 0, where
        small = page.evaluate(
            "[...document.querySelectorAll('button, select, input:not([type=hidden])')].filter(e => e.offsetParent && e.getBoundingClientRect().height < 43.5).length"
        )
        assert small == 0, where


def test_axe_finds_no_serious_fault_on_any_page(page: Page, site: str, office: Office) -> None:
    """axe-core 4.14 (MPL-2.0), rules of WCAG 2 A and AA."""
    sign_in(page, site)
    crew = f"/crew/{Door(office.workspace.book).link('benat')}"
    found = []
    for where in (*PAGES, "/days?block=" + latest_plan(office.workspace).blocks[0].id, crew):  # type: ignore[union-attr]
        page.goto(site + where)
        # The policy of the pages forbids added scripts; the browser's own tools may still evaluate.
        page.evaluate(AXE.read_text(encoding="utf-8"))
        told = page.evaluate("axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa']})")
        found += [
            (where, fault["id"], fault["nodes"][0]["html"][:120])
            for fault in told["violations"] if fault["impact"] in ("serious", "critical")
        ]  # fmt: skip
    assert found == []
