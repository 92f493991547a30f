"""What all pages share: templates, the session's door in front, safe headers, and errors as one sentence."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined, select_autoescape

from scheduler.web.door import Door, Pace
from scheduler.wiring.office import Office

COOKIE = "fitground"
REMARKS_KEPT = 200
SAFE_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; manifest-src 'self'; "
        "worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}


class Away(Exception):
    """The visitor must go elsewhere first."""

    def __init__(self, to: str) -> None:
        self.to = to


class Refused(Exception):
    """The request is refused: a status and one sentence."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status, self.text = status, text


@dataclass
class Site:
    """Everything that requests need."""

    office: Office
    door: Door
    templates: Environment
    logins: Pace
    writes: Pace
    reports: Pace
    secure: bool = False
    remarks: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def remark(self, event: str, notes: tuple[str, ...]) -> None:
        """Keep what a person should be told about a report, as long as it may stand on the first page of the news."""
        if notes:
            self.remarks[event] = notes
        while len(self.remarks) > REMARKS_KEPT:
            del self.remarks[next(iter(self.remarks))]

    def page(self, request: Request, name: str, status: int = 200, **values: Any) -> HTMLResponse:
        """Return a page, or the part of it that htmx asked for."""
        ticket = request.cookies.get(COOKIE, "")
        text = self.templates.get_template(name).render(
            site=self, farm=self.office.workspace.farm, token=self.door.form_token(ticket) if ticket else "", path=request.url.path,
            now=self.office.clock().astimezone(self.office.workspace.zone), **values,
        )  # fmt: skip
        return HTMLResponse(text, status_code=status)


def site_of(request: Request) -> Site:
    """Return the site that a request belongs to."""
    found = request.app.state.site
    assert isinstance(found, Site)
    return found


def templates() -> Environment:
    """Return the environment of the pages' templates, those of the crew's pages behind them; everything is escaped."""
    return Environment(
        loader=ChoiceLoader([PackageLoader("scheduler.web"), PackageLoader("scheduler.crew")]), autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def manager(request: Request) -> Site:
    """Let only the manager in; without a password yet, to the page that sets one."""
    site = site_of(request)
    if not site.door.has_password:
        raise Away("/welcome")
    if not site.door.session_holds(request.cookies.get(COOKIE, "")):
        raise Away("/sign-in")
    return site


def same_place(request: Request) -> None:
    """Refuse a form that another site sent."""
    told = request.headers.get("origin") or request.headers.get("referer") or ""
    if told and told != "null" and urlsplit(told).netloc != request.headers.get("host", ""):
        raise Refused(403, "this form came from another site, so it was refused.")


async def manager_writes(request: Request) -> Site:
    """Let only the manager's own forms in, at a decent pace."""
    site = manager(request)
    same_place(request)
    ticket = request.cookies.get(COOKIE, "")
    token = request.headers.get("x-form-token", "")
    if not token and "form" in request.headers.get("content-type", ""):
        token = str((await request.form()).get("form_token", ""))
    if not site.door.form_is_ours(ticket, token):
        raise Refused(403, "this form is too old or not ours; load the page again.")
    if not site.writes.lets_in(MANAGER_PACE):
        raise Refused(429, "too many changes at once; wait a minute.")
    return site


MANAGER_PACE = "manager"


def with_session(response: Response, site: Site) -> Response:
    """Give a response the cookie of a new session."""
    response.set_cookie(
        COOKIE, site.door.session(), max_age=14 * 86400, httponly=True, samesite="strict", secure=site.secure, path="/"
    )  # fmt: skip
    return response


def go(to: str) -> RedirectResponse:
    """Return a redirect after a form."""
    return RedirectResponse(to, status_code=303)
