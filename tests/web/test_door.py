"""Who may come in, and what a forged, foreign, too long or too frequent request gets."""

from __future__ import annotations

import re

import pytest
from argon2 import PasswordHasher
from itsdangerous import URLSafeTimedSerializer
from starlette.testclient import TestClient

from scheduler.web.app import make_app
from scheduler.web.door import PASSWORD as KEPT
from scheduler.web.door import SECRET, Door, Pace
from scheduler.web.frame import SAFE_HEADERS
from scheduler.wiring.office import Office
from shared.errors import FitgroundError
from tests.service.fakes import MemoryBook
from tests.web.conftest import PASSWORD

PAGES = (
    "/",
    "/ground",
    "/ground/sand-loop",
    "/days",
    "/windows",
    "/stores",
    "/news",
    "/season",
    "/what-if",
    "/crew-links",
)


def form_token(client: TestClient) -> str:
    """Return the token of the session's forms."""
    found = re.search(r'name="form_token" value="([0-9a-f]{64})"', client.get("/news").text)
    assert found is not None
    return found.group(1)


@pytest.mark.parametrize("page", PAGES)
def test_every_page_is_closed_to_strangers_and_open_to_the_manager(visitor: TestClient, page: str) -> None:
    answer = visitor.get(page, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/welcome")
    visitor.post("/welcome", data={"password": PASSWORD, "again": PASSWORD}, follow_redirects=False)
    answer = visitor.get(page)
    assert answer.status_code == 200
    for name, value in SAFE_HEADERS.items():
        assert answer.headers[name] == value
    # Everything comes from here, and nothing that the policy forbids is in the page.
    assert not re.search(r'(src|href)="(https?:)?//', answer.text.replace("http://testserver", ""))
    assert (
        "<style" not in answer.text
        and " style=" not in answer.text
        and not re.search(r"\son\w+=", answer.text)
    )


@pytest.mark.parametrize(
    "page", ["/api/v1/plan", "/api/v1/status", "/api/v1/fit", "/api/v1/news", "/api/v1/fields/sand-loop"]
)
def test_the_programs_door_is_closed_too(visitor: TestClient, page: str) -> None:
    answer = visitor.get(page, follow_redirects=False)
    assert (answer.status_code, answer.json()) == (401, {"error": "sign in first."})


def test_the_first_password_is_set_once_and_only_here(office: Office) -> None:
    away = TestClient(make_app(office), client=("192.0.2.7", 5000))
    assert away.get("/welcome").status_code == 403
    assert away.post("/welcome", data={"password": PASSWORD, "again": PASSWORD}).status_code == 403
    here = TestClient(make_app(office))
    short = here.post("/welcome", data={"password": "short", "again": "short"})
    assert short.status_code == 422 and "too short" in short.text
    assert "differ" in here.post("/welcome", data={"password": PASSWORD, "again": PASSWORD + "x"}).text
    here.post("/welcome", data={"password": PASSWORD, "again": PASSWORD})
    again = here.post("/welcome", data={"password": "another one here", "again": "another one here"})
    assert again.status_code == 403


def test_signing_in_needs_the_password_and_tries_are_few(manager: TestClient, office: Office) -> None:
    other = TestClient(make_app(office))
    assert other.post("/sign-in", data={"password": "wrong one here"}).status_code == 403
    assert other.post("/sign-in", data={"password": PASSWORD}).url.path == "/"
    thief = TestClient(make_app(office))
    codes = [thief.post("/sign-in", data={"password": f"guess {n}"}).status_code for n in range(14)]
    assert codes == [403] * 10 + [429] * 4


def test_the_password_lies_as_argon2id_and_never_as_itself(manager: TestClient, office: Office) -> None:
    """RFC 9106's variant, read back by the library itself."""
    kept = office.workspace.book.mark(KEPT)
    assert kept.startswith("$argon2id$") and PASSWORD not in kept
    assert PasswordHasher().verify(kept, PASSWORD)


def test_a_new_password_ends_every_session(manager: TestClient, office: Office) -> None:
    Door(office.workspace.book).set_password("quite another one")
    assert manager.get("/", follow_redirects=False).headers["location"] == "/sign-in"


def test_a_session_cookie_is_kept_from_scripts_and_other_sites(visitor: TestClient) -> None:
    answer = visitor.post("/welcome", data={"password": PASSWORD, "again": PASSWORD}, follow_redirects=False)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie


def test_signing_out_ends_here(manager: TestClient) -> None:
    manager.post("/sign-out", data={"form_token": form_token(manager)})
    assert manager.get("/", follow_redirects=False).status_code == 303


@pytest.mark.parametrize(
    "where",
    [
        "/news",
        "/plan",
        "/issue",
        "/days/price",
        "/ground/sand-loop/spade",
        "/ground/alder-bottom/seed",
        "/what-if",
        "/can",
    ],
)
def test_a_form_without_our_token_or_from_another_site_is_refused(
    manager: TestClient, office: Office, where: str
) -> None:
    before = office.workspace.log.last_sequence()
    data = {
        "words": 'rain all "1 in"',
        "verdict": "fit",
        "block": "x",
        "start": "x",
        "ways": "x",
        "seed": "corn-seed",
    }
    assert manager.post(where, data=data).status_code == 403
    assert manager.post(where, data=data | {"form_token": "0" * 64}).status_code == 403
    token = form_token(manager)
    foreign = manager.post(
        where, data=data | {"form_token": token}, headers={"Origin": "https://elsewhere.example"}
    )
    assert foreign.status_code == 403
    assert office.workspace.log.last_sequence() == before


def test_a_forged_old_or_revoked_link_opens_nothing() -> None:
    book = MemoryBook()
    door = Door(book)
    link = door.link("ilse")
    assert door.who(link) == "ilse"
    assert door.who(link[:-2] + "xx") is None
    forged = URLSafeTimedSerializer("guess", salt="fitground crew").dumps(["ilse", "1"])
    assert door.who(forged) is None
    # A session's ticket is no link, and a link is no session's ticket.
    assert door.who(door.session()) is None and not door.session_holds(link)
    other = door.link("tove")
    door.revoke("ilse")
    assert door.who(link) is None and door.who(other) == "tove"
    assert door.who(door.link("ilse")) == "ilse"
    again = Door(book)
    assert again.who(other) == "tove" and len(book.mark(SECRET)) > 40


def test_a_link_is_over_after_its_season(monkeypatch: pytest.MonkeyPatch) -> None:
    door = Door(MemoryBook())
    link = door.link("ilse")
    monkeypatch.setattr("scheduler.web.door.LINK_S", -1)
    assert door.who(link) is None


def test_long_passwords_and_bodies_are_refused(manager: TestClient) -> None:
    with pytest.raises(FitgroundError, match="too long"):
        Door(MemoryBook()).set_password("x" * 201)
    answer = manager.post(
        "/news", content=b"x" * 3_100_000, headers={"Content-Type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code == 413


def test_a_pace_lets_so_many_in_and_then_again_later() -> None:
    now = [0.0]
    pace = Pace(2, 10, lambda: now[0])
    assert [pace.lets_in("a"), pace.lets_in("a"), pace.lets_in("a"), pace.lets_in("b")] == [
        True,
        True,
        False,
        True,
    ]
    now[0] = 11
    assert pace.lets_in("a")
