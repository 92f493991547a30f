"""What the manager does on a page: news in words, a spade test, a correction, issuing the plan, crew links."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Request, Response

from scheduler.events.report import Report
from scheduler.events.typed import typed_words
from scheduler.web import views_ground
from scheduler.web.frame import Refused, Site, go, manager_writes
from scheduler.wiring.news import take_report
from shared.vocabulary import EventKind, Fitness

router = APIRouter(include_in_schema=False)
Writer = Annotated[Site, Depends(manager_writes)]


@router.post("/news")
def tell(
    request: Request, site: Writer, words: Annotated[str, Form(max_length=500)], until: Annotated[str, Form(max_length=40)] = "",
    at: Annotated[str, Form(max_length=40)] = "", why: Annotated[str, Form(max_length=200)] = "",
) -> Response:  # fmt: skip
    """Take any news, in the words of `fitground report`."""
    options = {name: value for name, value in (("until", until), ("at", at), ("why", why)) if value} | {
        "by": "manager"
    }
    _take(site, typed_words(words), options)
    return go("/news")


@router.post("/stores/{product}")
def store(
    site: Writer, product: str, amount: Annotated[str, Form(max_length=40)], what: Annotated[Literal["counted", "delivered"], Form()],
) -> Response:  # fmt: skip
    """Take what was counted of a product, or what came of it."""
    if product not in site.office.view().situation.farm.product_by_id:
        raise Refused(404, f"there is no product {product!r}.")
    _take(site, [what, product, amount], {"by": "manager"})
    return go("/stores")


def _take(site: Site, words: Sequence[str], options: Mapping[str, str | None]) -> None:
    """Take a report, and keep what a person should be told about it for the page of news."""
    for told in take_report(site.office.workspace, words, options, site.office.clock(), "page"):
        site.remark(told.record.id, told.notes)


@router.post("/news/withdraw")
def withdraw(request: Request, site: Writer, event: Annotated[str, Form(max_length=200)], why: Annotated[str, Form(max_length=200)] = "") -> Response:  # fmt: skip
    """Take a report out: it was wrong."""
    site.office.take(Report(EventKind.EVENT_CORRECTED, {"event_id": event, "body": None, "why": why}, site.office.clock(), "manager", "page"))  # fmt: skip
    return go("/news")


@router.post("/ground/{field_id}/spade")
def spade(
    request: Request,
    site: Writer,
    field_id: str,
    verdict: Annotated[Fitness, Form()],
    pass_id: Annotated[str, Form(max_length=80)] = "",
) -> Response:
    """Take a spade test, and show what it changes."""
    before = site.office.view()
    if field_id not in before.situation.farm.field_by_id:
        raise Refused(404, f"there is no field {field_id!r}.")
    body = {"field": field_id, "verdict": verdict.value} | ({"pass_id": pass_id} if pass_id else {})
    site.office.take(Report(EventKind.GROUND_CHECKED, body, site.office.clock(), "manager", "page"))
    if not request.headers.get("hx-request"):
        return go(f"/ground/{field_id}")
    old, new = (
        views_ground.field_page(before, field_id),
        views_ground.field_page(site.office.view(), field_id),
    )
    return site.page(request, "part_field.html", one=new, before=old)


@router.post("/ground/{field_id}/seed")
def seed(site: Writer, field_id: str, seed: Annotated[str, Form(max_length=80)]) -> Response:
    """Take another seed for a field."""
    if field_id not in site.office.view().situation.farm.field_by_id:
        raise Refused(404, f"there is no field {field_id!r}.")
    _take(site, ["change", "field", field_id, "seed", seed], {"by": "manager"})
    return go(f"/ground/{quote(field_id)}")


@router.post("/issue")
def issue(request: Request, site: Writer) -> Response:
    """Issue the plan that waits."""
    site.office.issue_draft()
    return go("/")


@router.post("/drop")
def drop(request: Request, site: Writer) -> Response:
    """Let the plan that waits go."""
    site.office.drop_draft()
    return go("/")


@router.post("/crew-links/{person}/revoke")
def revoke(request: Request, site: Writer, person: str) -> Response:
    """End the links of a person; the new one stands on the page."""
    if person not in site.office.view().situation.farm.operator_by_id:
        raise Refused(404, f"there is nobody {person!r}.")
    site.door.revoke(person)
    return go("/crew-links")
