"""A person's own page, opened by a link: the day list, and reports by touch; what was typed offline counts once."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from datetime import date, datetime, timedelta
from importlib.resources import files
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Request, Response
from pydantic import BaseModel, ConfigDict
from pydantic import Field as Key

from scheduler.crew.day_list import day_list
from scheduler.crew.language import Words
from scheduler.crew.paper import FORMS
from scheduler.events.paces import FROM_PHONE
from scheduler.events.report import Report
from scheduler.farm.operator import Operator
from scheduler.web.crew_words import notes_on, page_words, refusal_text, report_of
from scheduler.web.frame import Refused, Site, same_place, site_of
from scheduler.wiring.calendars import person_feed
from scheduler.wiring.issued import known_block, list_before
from scheduler.wiring.plans_known import plan_of
from shared.errors import ReportRefused

router = APIRouter(tags=["crew"])
PHOTO_MOST, PHOTO_START = 1_500_000, ("data:image/jpeg;base64,", "data:image/png;base64,")
LATE = timedelta(days=3)
"""A report typed offline is taken as of then when it is no older than this; else as of now."""


class CrewReport(BaseModel):
    """What a phone sends: one touch, known by its own id."""

    model_config = ConfigDict(extra="forbid")

    id: str = Key(pattern=r"^[A-Za-z0-9_-]{8,64}$")
    what: Literal["start", "pause", "area", "finished", "rain", "too_wet", "rig_trouble", "out_of"]
    at: datetime
    block: str = Key(default="", max_length=200)
    amount: str = Key(default="", max_length=40)
    note: str = Key(default="", max_length=500)
    photo: str = Key(default="", max_length=2_100_000)


class Taken(BaseModel):
    """What became of a report."""

    id: str
    taken: bool
    text: str
    notes: tuple[str, ...] = ()


def visitor(request: Request, link: str) -> tuple[Site, Operator]:
    """Return whose link it is."""
    site = site_of(request)
    name = site.door.who(link)
    # As news changed them: somebody may have joined since, or read another language.
    person = None if name is None else site.office.view().situation.farm.operator_by_id.get(name)
    if person is None:
        raise Refused(403, "this link is over or was never one; ask for a new one.")
    return site, person


Visitor = Annotated[tuple[Site, Operator], Depends(visitor)]


@router.get("/crew/service-worker.js", include_in_schema=False)
def service_worker() -> Response:
    """The part that keeps the page readable without a network; served here so that it covers these pages only."""
    text = (files("scheduler.web") / "static" / "service-worker.js").read_text(encoding="utf-8")
    return Response(text, media_type="text/javascript", headers={"Cache-Control": "no-cache"})


@router.get("/crew/{link}", include_in_schema=False)
def page(request: Request, link: str, who: Visitor, day: date | None = None) -> Response:
    """A person's day."""
    site, person = who
    view, words = site.office.view(), Words(person.language)
    today = view.made_at.astimezone(site.office.workspace.zone).date()
    wanted = min(max(day or today, today - timedelta(days=1)), today + timedelta(days=13))
    plan = None if view.plan is None else plan_of(site.office.workspace, wanted, view.plan)
    anew = plan is not None and plan is view.plan and wanted == plan.first_day
    before = list_before(site.office.workspace, plan) if plan is not None and anew else None
    one = None if plan is None else day_list(plan, view.situation, view.outlook, person.id, wanted, before)
    return site.page(
        request, "crew.html", person=person, one=one, words=words, day=wanted, today=today, link=link, texts=page_words(words),
        **FORMS, next_day=wanted + timedelta(days=1), day_before=wanted - timedelta(days=1),
    )  # fmt: skip


@router.get("/crew/{link}/calendar.ics", include_in_schema=False)
def calendar(request: Request, link: str, who: Visitor) -> Response:
    """A person's work as a calendar feed; unchanged, it is not sent again."""
    site, person = who
    content = person_feed(site.office.workspace, person.id, site.office.clock())
    mark = f'"{hashlib.sha256(content).hexdigest()[:24]}"'
    head = {"ETag": mark, "Cache-Control": "private, max-age=300"}
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers=head)
    return Response(content, media_type="text/calendar; charset=utf-8", headers=head)


@router.post("/crew/{link}/report", response_model=Taken, responses={403: {}, 422: {}, 429: {}})
def report(request: Request, link: str, who: Visitor, told: CrewReport) -> Taken:
    """Take one report; the same id again is answered as before and counts once. A refusal comes with its reason."""
    site, person = who
    same_place(request)
    if not site.reports.lets_in(person.id):
        raise Refused(429, "too many reports at once; they are kept and sent again.")
    now = site.office.clock()
    happened = told.at if told.at.tzinfo is not None else told.at.replace(tzinfo=site.office.workspace.zone)
    if not now - LATE <= happened <= now:
        happened = now
    photo = _photo(told.photo)
    words = Words(person.language)
    view, block = site.office.view(), None
    try:
        block = known_block(site.office.workspace, person.id, told.block, now, LATE)
        kind, body = report_of(view, person, told.what, block, told.amount, told.note)
        if photo:
            body |= {"why": f"{body.get('why', '')} (photo {told.id}.jpg)".strip()}
        decision = site.office.take(Report(kind, body, happened, person.id, FROM_PHONE, f"crew-{told.id}"))
    except ReportRefused as error:
        return Taken(id=told.id, taken=False, text=refusal_text(error, words, view.situation.farm, block))
    if photo and not decision.known:
        folder = site.office.workspace.folder / "photos"
        folder.mkdir(exist_ok=True)
        (folder / f"{told.id}.jpg").write_bytes(photo)
    notes = () if decision.known else notes_on(view, decision, block, words)
    return Taken(id=told.id, taken=True, text=words("Thank you, it is written down."), notes=notes)


def _photo(text: str) -> bytes:
    """Return the bytes of a photo; nothing but pictures is taken."""
    if not text:
        return b""
    start = next((one for one in PHOTO_START if text.startswith(one)), None)
    if start is None or not re.fullmatch(r"[A-Za-z0-9+/=]*", text[len(start) :]):
        raise Refused(422, "the photo is no JPEG or PNG picture.")
    try:
        raw = base64.b64decode(text[len(start) :], validate=True)
    except (binascii.Error, ValueError) as error:
        raise Refused(422, "the photo is no JPEG or PNG picture.") from error
    if len(raw) > PHOTO_MOST or not raw.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")):
        raise Refused(422, f"the photo is no JPEG or PNG picture of at most {PHOTO_MOST // 1000} kB.")
    return raw
