"""The same facts for programs: JSON, described at ``/api/openapi.json``. A session of the manager opens it."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query
from pydantic import BaseModel, ConfigDict
from pydantic import Field as Key

from scheduler.events.describe import history
from scheduler.events.report import Report
from scheduler.planning.plan import Plan
from scheduler.web.frame import Refused, Site, manager, manager_writes
from scheduler.windows.ledger import fit_table
from shared.errors import ReportRefused
from shared.vocabulary import EventKind

Manager = Annotated[Site, Depends(manager)]
Writer = Annotated[Site, Depends(manager_writes)]


class Fault(BaseModel):
    """Why a request was refused: one sentence."""

    error: str


REFUSALS: dict[int | str, dict[str, Any]] = {
    code: {"model": Fault} for code in (401, 403, 404, 413, 422, 429)
}
router = APIRouter(prefix="/api/v1", responses=REFUSALS, tags=["farm"])


class Health(BaseModel):
    """Whether the pages answer."""

    ok: bool


class FitDay(BaseModel):
    """One field, pass and day: expected fit hours, odds of the best hour, and the main reason against."""

    model_config = ConfigDict(extra="allow")

    field: str
    date: str


class NewsLine(BaseModel):
    """One line of the log."""

    id: str
    when: str
    by: str
    text: str
    corrected: bool


class Said(BaseModel):
    """A report: a kind of event with its body in SI units, known by an id of its own."""

    model_config = ConfigDict(extra="forbid")

    id: str = Key(
        default="",
        max_length=200,
        description="Yours, so that a re-send counts once; made from the content when empty.",
    )
    kind: EventKind
    happened_at: datetime | None = Key(default=None, description="With a time zone; now when left out.")
    body: dict[str, Any]


class Stored(BaseModel):
    """The event that a report became."""

    id: str
    sequence: int
    known: bool
    notes: list[str]


@router.get("/health", tags=["open"])
def health() -> Health:
    """Answer that the pages are there; open to everybody."""
    return Health(ok=True)


@router.get("/status")
def status(site: Manager) -> dict[str, Any]:
    """How things stand."""
    return site.office.status().plain()


@router.get("/plan")
def plan(site: Manager, draft: bool = False) -> Plan:
    """The plan that people work by, or the draft that waits."""
    view = site.office.view()
    found = view.draft if draft else view.plan
    if found is None:
        raise Refused(404, "there is no such plan yet.")
    return found


@router.get("/fit")
def fit(site: Manager, days: Annotated[int, Query(ge=1, le=28)] = 7) -> list[FitDay]:
    """Which fields are fit on the days ahead, how surely, and why not the others."""
    view = site.office.view()
    return [FitDay.model_validate(row) for row in fit_table(view.outlook, view.situation, days=days)]


@router.get("/fields/{field}")
def field(site: Manager, field: Annotated[str, Path(max_length=200)]) -> dict[str, Any]:
    """One field as the farm knows it now."""
    found = site.office.view().situation.farm.field_by_id.get(field)
    if found is None:
        raise Refused(404, f"there is no field {field!r}.")
    return found.model_dump(mode="json")


@router.get("/news")
def news(site: Manager, after: Annotated[int, Query(ge=0, le=10**9)] = 0) -> list[NewsLine]:
    """The log in sentences, oldest first, from a place on."""
    view = site.office.view()
    rows = history(view.state, view.situation.farm)
    return [
        NewsLine(id=r.id, when=r.when, by=r.by, text=r.text, corrected=r.corrected)
        for r in rows[after : after + 500]
    ]


@router.post("/news", status_code=201)
def tell(site: Writer, said: Said) -> Stored:
    """Take a report. It is judged like any other; a refusal says why in one sentence (422)."""
    if said.kind in (EventKind.PLAN_ISSUED, EventKind.FORECAST_RECEIVED):
        raise ReportRefused(f"{said.kind.value} is written by fitground itself.")
    now = site.office.clock()
    happened = said.happened_at or now
    if happened.tzinfo is None:
        raise ReportRefused("happened_at has no time zone.")
    decision = site.office.take(Report(said.kind, said.body, happened, "manager", "page", said.id))
    return Stored(
        id=decision.record.id,
        sequence=decision.record.sequence,
        known=decision.known,
        notes=list(decision.notes),
    )
