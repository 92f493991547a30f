"""The site put together: routes, safe headers on every answer, errors as sentences, and its public description."""

from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable
from importlib.metadata import version
from importlib.resources import files

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.middleware.gzip import GZipMiddleware
from fastapi.responses import JSONResponse, RedirectResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from scheduler.web import actions, api, api_questions, crew, pages, pages_plan, sign_in
from scheduler.web.door import Door, Pace
from scheduler.web.frame import SAFE_HEADERS, Away, Refused, Site, site_of, templates
from scheduler.wiring.office import Office
from shared.errors import FitgroundError

BODY_MOST = 3_000_000
LOG = logging.getLogger("fitground.service")


def make_app(office: Office, secure: bool = False, writes_a_minute: int = 240) -> FastAPI:
    """Return the site of a farm.

    Parameters
    ----------
    secure : bool
        Cookies only over HTTPS, for a site behind a proxy.
    """
    app = FastAPI(
        title="fitground", version=version("fitground"), docs_url=None, redoc_url=None, openapi_url="/api/openapi.json",
        description="Field-work plans for one farm. fitground advises; labels, local law and licensed people decide.",
    )  # fmt: skip
    door = Door(office.workspace.book)
    app.state.site = Site(
        office, door, templates(), Pace(10, 60), Pace(writes_a_minute, 60), Pace(120, 60), secure
    )
    app.middleware("http")(_guard)
    # No page repeats what a stranger sent, so packing gives nothing away (the condition of the BREACH attack).
    app.add_middleware(GZipMiddleware, minimum_size=2000)
    for room in (sign_in, pages, pages_plan, actions, crew, api, api_questions):
        app.include_router(room.router)
    app.mount("/static", StaticFiles(directory=str(files("scheduler.web") / "static")), name="static")
    _errors(app)
    return app


async def _guard(request: Request, call_next: Callable[[Request], Awaitable[Response]]) -> Response:
    """Refuse bodies that are too long, and put the safe headers on every answer."""
    length = request.headers.get("content-length", "0")
    if not length.isdigit() or int(length) > BODY_MOST:
        response: Response = JSONResponse({"error": f"more than {BODY_MOST // 1000} kB is not taken."}, 413)
    else:
        response = await call_next(request)
    for name, value in SAFE_HEADERS.items():
        response.headers.setdefault(name, value)
    if request.url.path.startswith("/static/"):
        response.headers.setdefault("Cache-Control", "public, max-age=3600")
    else:
        response.headers.setdefault("Cache-Control", "no-store")
    return response


def _errors(app: FastAPI) -> None:
    @app.exception_handler(Away)
    async def _away(request: Request, error: Away) -> Response:
        if request.url.path.startswith("/api/"):
            return JSONResponse({"error": "sign in first."}, 401)
        if request.headers.get("hx-request"):
            return Response(status_code=204, headers={"HX-Redirect": error.to})
        return RedirectResponse(error.to, 303)

    @app.exception_handler(Refused)
    async def _refused(request: Request, error: Refused) -> Response:
        return _sentence(request, error.status, error.text)

    @app.exception_handler(FitgroundError)
    async def _ours(request: Request, error: FitgroundError) -> Response:
        return _sentence(request, 422, str(error))

    @app.exception_handler(RequestValidationError)
    async def _invalid(request: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"][1:]) or "the request"
        return _sentence(request, 422, f"{place}: {first['msg'][:1].lower()}{first['msg'][1:]}.")

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> Response:
        said = "there is no such page." if error.status_code == 404 else str(error.detail)
        return _sentence(request, error.status_code, said)

    @app.exception_handler(Exception)
    async def _unexpected(request: Request, error: Exception) -> Response:
        LOG.exception("page failed", exc_info=error, extra={"facts": {"path": request.url.path}})
        return _sentence(request, 500, "something went wrong here; the log says more.")


def _sentence(request: Request, status: int, text: str) -> Response:
    """Return one sentence as JSON for programs, as part of a page for htmx, else as a page."""
    text = text[:1].upper() + text[1:]
    path = request.url.path
    if path.startswith("/api/") or (path.startswith("/crew/") and request.method != "GET"):
        return JSONResponse({"error": text}, status)
    site = site_of(request)
    if request.headers.get("hx-request"):
        # htmx shows only answers that succeed; the sentence itself says that it did not.
        return site.page(request, "part_error.html", 200, text=text)
    return site.page(request, "error.html", status, text=text)
