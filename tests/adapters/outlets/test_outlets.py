"""Outlets against real receivers: a folder, a local SMTP server (aiosmtpd), a local web server."""

from __future__ import annotations

import email
import hashlib
import hmac
import json
import socket
import threading
from collections.abc import Iterator
from datetime import date
from email import policy
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

from adapters.outlets import KINDS, open_outlets
from adapters.outlets.webhook import signature
from scheduler.farm.service_settings import OutletSettings
from shared.errors import OutletFailed
from shared.parcel import Parcel
from shared.ports import Outlet

PARCEL = Parcel("p1/niña", "niña", "Lista del día\n14 de mayo", "Größe: 12 ha", "<p>Größe: 12&nbsp;ha</p>", date(2027, 5, 14), "nina@example.org", {"area_ha": 12})  # fmt: skip


def opened(kind: str, folder: Path, environment: dict[str, str] | None = None, **options: Any) -> Outlet:
    """Return one outlet, opened as the farm file would."""
    (found,) = open_outlets(folder, [OutletSettings(kind=kind, options=options)], environment or {})
    return found


def test_a_folder_holds_whole_files_and_a_newer_list_takes_the_old_ones_place(tmp_path: Path) -> None:
    outlet = opened("folder", tmp_path, path="lists")
    outlet.hand_out(PARCEL)
    newer = Parcel("p2/niña", "niña", "t", "newer", "", PARCEL.day)
    outlet.hand_out(newer)
    outlet.hand_out(Parcel("r/../../x", "../../x", "t", "asked", "", PARCEL.day, kind="reminder"))
    files = {
        str(path.relative_to(tmp_path)): path.read_text() for path in tmp_path.rglob("*") if path.is_file()
    }
    assert files == {
        "lists/2027-05-14/niña.txt": "newer",
        "lists/2027-05-14/niña.html": PARCEL.html,
        "lists/2027-05-14/_x-reminder.txt": "asked",
    }


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "lists").write_text("a file, no folder")
    with pytest.raises(OutletFailed, match="cannot be written"):
        opened("folder", tmp_path, path="lists").hand_out(PARCEL)


class Postman:
    """Keeps letters; refuses addresses that begin with ``no`` for good and with ``later`` for now."""

    def __init__(self) -> None:
        self.letters: list[tuple[list[str], bytes]] = []

    async def handle_RCPT(
        self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any
    ) -> str:
        if address.startswith("no"):
            return "550 no such person"
        if address.startswith("later"):
            return "450 try again"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:
        self.letters.append((list(envelope.rcpt_tos), bytes(envelope.content)))
        return "250 OK"


@pytest.fixture
def post() -> Iterator[tuple[Postman, int]]:
    """A mail server that wants user ``farm`` and password ``secret``."""
    postman = Postman()

    def check(_server: Any, _session: Any, _envelope: Any, _mechanism: str, said: Any) -> AuthResult:
        good = isinstance(said, LoginPassword) and (said.login, said.password) == (b"farm", b"secret")
        return AuthResult(success=good, handled=good)

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = Controller(postman, hostname="127.0.0.1", port=port, authenticator=check, auth_require_tls=False)
    server.start()
    yield postman, port
    server.stop()


def mail(port: int, folder: Path, password: str = "secret", **more: Any) -> Outlet:
    options = {
        "host": "127.0.0.1",
        "port": port,
        "from": "Office <office@example.org>",
        "user": "farm",
        "password_env": "PW",
    } | more
    return opened("mail", folder, {"PW": password}, **options)


def test_a_letter_arrives_with_text_and_page_and_all_its_letters(
    post: tuple[Postman, int], tmp_path: Path
) -> None:
    postman, port = post
    mail(port, tmp_path).hand_out(PARCEL)
    ((to, raw),) = postman.letters
    letter = email.message_from_bytes(raw, policy=policy.default)
    assert to == ["nina@example.org"]
    assert letter["Subject"] == "Lista del día 14 de mayo"
    assert letter["Message-ID"] and letter["From"] == "Office <office@example.org>"
    text, page = letter.get_body(("plain",)), letter.get_body(("html",))
    assert text is not None and text.get_content().strip() == PARCEL.text
    assert page is not None and "Größe: 12&nbsp;ha" in page.get_content()


def test_the_managers_page_goes_to_the_manager_and_who_has_no_address_gets_none(
    post: tuple[Postman, int], tmp_path: Path
) -> None:
    postman, port = post
    outlet = mail(port, tmp_path, to="boss@example.org")
    outlet.hand_out(Parcel("p/all", "all", "t", "x", "", PARCEL.day))
    outlet.hand_out(Parcel("p/tove", "tove", "t", "x", "", PARCEL.day))
    assert [to for to, _ in postman.letters] == [["boss@example.org"]]


@pytest.mark.parametrize(
    ("address", "password", "said", "again"),
    [
        ("no@example.org", "secret", "refuses the address no@example.org (550)", False),
        ("later@example.org", "secret", "refuses the address later@example.org (450)", True),
        ("nina@example.org", "wrong", "does not accept user and password", False),
    ],
)
def test_a_refused_letter_is_one_sentence_and_says_whether_later_helps(
    post: tuple[Postman, int], tmp_path: Path, address: str, password: str, said: str, again: bool
) -> None:
    parcel = Parcel("p/x", "x", "t", "x", "", PARCEL.day, address)
    with pytest.raises(OutletFailed) as caught:
        mail(post[1], tmp_path, password).hand_out(parcel)
    assert said in str(caught.value)
    assert caught.value.again is again


def test_a_mail_server_that_is_away_is_one_sentence(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        free = probe.getsockname()[1]
    with pytest.raises(OutletFailed, match="cannot be reached") as caught:
        mail(free, tmp_path).hand_out(PARCEL)
    assert caught.value.again


class Hook:
    """A web server that answers as told and keeps what it got."""

    def __init__(self) -> None:
        self.got: list[tuple[dict[str, str], bytes]] = []
        self.code = 204
        hook = self

        class Answers(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"]))
                hook.got.append((dict(self.headers), body))
                self.send_response(hook.code)
                self.send_header("Location", "/elsewhere")
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_: object) -> None:
                pass

        self.server = HTTPServer(("127.0.0.1", 0), Answers)
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        self.url = f"http://127.0.0.1:{self.server.server_port}/lists"


@pytest.fixture
def hook() -> Iterator[Hook]:
    """A web server."""
    found = Hook()
    yield found
    found.server.shutdown()
    found.server.server_close()


def test_a_hook_gets_json_that_it_can_prove_is_ours(hook: Hook, tmp_path: Path) -> None:
    opened("webhook", tmp_path, {"S": "key"}, url=hook.url, secret_env="S").hand_out(PARCEL)
    ((headers, body),) = hook.got
    told = json.loads(body)
    assert (told["parcel"], told["to"], told["day"], told["data"]) == (
        "p1/niña",
        "niña",
        "2027-05-14",
        {"area_ha": 12},
    )
    at, mark = (part.split("=")[1] for part in headers["X-Fitground-Signature"].split(","))
    assert mark == hmac.new(b"key", f"{at}.".encode() + body, hashlib.sha256).hexdigest()
    assert headers["Content-Type"] == "application/json"


def test_the_hash_is_that_of_rfc_4231() -> None:
    """RFC 4231, test case 2 (from memory): HMAC-SHA-256 under "Jefe"; the same function signs the bodies."""
    told = hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest()
    assert told == "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert signature(b"what?", "Jefe", 7).startswith("t=7,v1=")
    assert signature(b"what?", "Jefe", 7) != signature(b"what?", "Jefe", 8)


@pytest.mark.parametrize(("code", "again"), [(500, True), (429, True), (400, False), (302, False)])
def test_a_hook_that_refuses_is_one_sentence_and_is_never_followed_elsewhere(
    hook: Hook, tmp_path: Path, code: int, again: bool
) -> None:
    hook.code = code
    with pytest.raises(OutletFailed, match=f"answered {code}") as caught:
        opened("webhook", tmp_path, url=hook.url).hand_out(PARCEL)
    assert caught.value.again is again
    assert len(hook.got) == 1


@pytest.mark.parametrize(
    ("kind", "options", "said"),
    [
        ("pigeon", {}, r"outlet\[1\]\.kind 'pigeon' is not known; allowed: folder, mail, webhook"),
        ("folder", {"pth": "x"}, "options.pth is not known; allowed: path"),
        ("mail", {}, "options.host is missing"),
        ("mail", {"host": "h", "from": "a@b", "port": "99999"}, "is no port"),
        ("mail", {"host": "h", "from": "nobody"}, "is no address"),
        ("mail", {"host": "h", "from": "a@b", "security": "ssl"}, "allowed: starttls, tls, none"),
        (
            "mail",
            {"host": "h", "from": "a@b", "user": "u", "security": "none"},
            "send the password in the open",
        ),
        (
            "mail",
            {"host": "h", "from": "a@b", "password_env": "NOPE"},
            "environment variable NOPE, which is not set",
        ),
        ("webhook", {"url": "http://far.example/x"}, "is not safe"),
        ("webhook", {"url": "ftp://x"}, "is not safe"),
    ],
)
def test_a_fault_in_the_farm_file_is_one_sentence(
    tmp_path: Path, kind: str, options: dict[str, Any], said: str
) -> None:
    with pytest.raises(OutletFailed, match=said) as caught:
        opened(kind, tmp_path, **options)
    assert not caught.value.again and "\n" not in str(caught.value)


def test_two_outlets_of_one_name_are_refused(tmp_path: Path) -> None:
    with pytest.raises(OutletFailed, match="'folder' is there twice"):
        open_outlets(tmp_path, [OutletSettings(kind="folder"), OutletSettings(kind="folder")], {})


def test_every_kind_is_an_outlet(tmp_path: Path) -> None:
    options = {
        "folder": {},
        "mail": {"host": "h", "from": "a@b"},
        "webhook": {"url": "https://office.example/x"},
    }
    for kind in KINDS:
        assert isinstance(opened(kind, tmp_path, **options[kind]), Outlet)
