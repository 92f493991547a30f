"""Signing in and out, and the first visit, on which the manager chooses a password."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from scheduler.web.frame import COOKIE, Away, Refused, go, manager_writes, same_place, site_of, with_session
from shared.errors import FitgroundError

router = APIRouter(include_in_schema=False)
LOCAL = ("127.0.0.1", "::1", "testclient")


def _here(request: Request) -> bool:
    return request.client is not None and request.client.host in LOCAL


@router.get("/welcome")
def welcome(request: Request) -> Response:
    """Ask for the first password; only on the computer itself."""
    site = site_of(request)
    if site.door.has_password:
        raise Away("/sign-in")
    if not _here(request):
        raise Refused(403, "the first password is set on the computer on which fitground runs.")
    return site.page(request, "sign_in.html", first=True, error="")


@router.post("/welcome")
def first_password(
    request: Request,
    password: Annotated[str, Form(max_length=1000)],
    again: Annotated[str, Form(max_length=1000)],
) -> Response:
    """Set the first password."""
    site = site_of(request)
    same_place(request)
    if site.door.has_password or not _here(request):
        raise Refused(403, "the password is set already.")
    try:
        if password != again:
            raise FitgroundError("the two passwords differ.")
        site.door.set_password(password)
    except FitgroundError as error:
        return site.page(request, "sign_in.html", 422, first=True, error=str(error))
    return with_session(go("/"), site)


@router.get("/sign-in")
def sign_in_page(request: Request) -> Response:
    """Ask for the password."""
    site = site_of(request)
    if not site.door.has_password:
        raise Away("/welcome")
    return site.page(request, "sign_in.html", first=False, error="")


@router.post("/sign-in")
def sign_in(request: Request, password: Annotated[str, Form(max_length=1000)]) -> Response:
    """Let the manager in."""
    site = site_of(request)
    same_place(request)
    who = request.client.host if request.client else "?"
    if not site.logins.lets_in(who):
        return site.page(request, "sign_in.html", 429, first=False, error="too many tries; wait a minute.")
    if not site.door.password_is(password):
        return site.page(request, "sign_in.html", 403, first=False, error="that is not the password.")
    return with_session(go("/"), site)


@router.post("/sign-out")
async def sign_out(request: Request) -> Response:
    """End this session."""
    await manager_writes(request)
    response = go("/sign-in")
    response.delete_cookie(COOKIE, path="/")
    return response
