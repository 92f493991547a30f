"""The plan day by day, the price of a pin, long jobs with their progress, and what-ifs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Form, Request, Response

from scheduler.crew.language import Words
from scheduler.crew.notes import job_name
from scheduler.events.report import Report
from scheduler.planning.left_groups import later_lines, left_out_lines
from scheduler.planning.plan import LOOK_FIRST, Plan, PlanBlock
from scheduler.web.frame import Refused, Site, go, manager, manager_writes
from scheduler.whatif.study import Way
from scheduler.whatif.tell import SAME, against, finish, main_passes, present_of, ranked, sure_of
from scheduler.wiring.office import Job, View
from shared.errors import FitgroundError
from shared.units import show
from shared.vocabulary import EventKind

router = APIRouter(include_in_schema=False)
Manager = Annotated[Site, Depends(manager)]
Writer = Annotated[Site, Depends(manager_writes)]
By = Literal["operator", "rig", "field"]
WAY_SECONDS = 0.8
CAN_SECONDS = 2.0
WAYS_MOST = 8


@dataclass(frozen=True)
class Piece:
    """A block on the board."""

    id: str
    clock: str
    head: str
    text: str
    sure: bool
    pinned: bool
    under_way: bool


@router.get("/days")
def days(request: Request, site: Manager, by: By = "operator", block: str = "") -> Response:
    """The plan for two weeks, by operator, rig or field."""
    view = site.office.view()
    plan = view.draft or view.plan
    chosen = None if plan is None else next((one for one in plan.blocks if one.id == block), None)
    dates = [] if plan is None else [view.outlook.first_day + timedelta(days=k) for k in range(plan.days)]
    board = [] if plan is None else _board(view, plan, dates, by)
    return site.page(
        request, "days.html", by=by, dates=dates, board=board, plan=plan, view=view, chosen=chosen, detail=_detail(view, chosen),
        pins=view.situation.pins, later=[] if plan is None else later_lines(plan, view.situation.farm),
        left_out=[] if plan is None else left_out_lines(plan, view.situation.farm),
    )  # fmt: skip


def _board(view: View, plan: Plan, dates: list[date], by: By) -> list[tuple[str, list[list[Piece]]]]:
    farm = view.situation.farm
    groups: dict[str, list[PlanBlock]] = {}
    if by == "operator":
        groups = {person.label: list(plan.of_operator(person.id)) for person in farm.operators}
    elif by == "field":
        groups = {field.label: [b for b in plan.blocks if b.field == field.id] for field in farm.fields}
    else:
        for one in plan.blocks:
            groups.setdefault(_rig(view, one), []).append(one)
    return [
        (
            name,
            [
                [_piece(view, b, by) for b in sorted(blocks, key=lambda b: b.start) if b.start.date() == day]
                for day in dates
            ],
        )
        for name, blocks in groups.items()
        if blocks or by != "field"
    ]


def _rig(view: View, block: PlanBlock) -> str:
    farm = view.situation.farm
    return " + ".join(farm.machine_label(name) for name in block.machines) or "on foot"


def _piece(view: View, block: PlanBlock, by: By) -> Piece:
    farm, words = view.situation.farm, Words("en")
    person, field = farm.operator_label(block.operator), farm.field_label(block.field)
    job, area = job_name(farm, block, words), show(block.area_ha, "area_ha", farm.units, 0)
    head = job if by == "field" else field
    rest = {"operator": f"{job}, {area}", "rig": f"{job}, {area}, {person}", "field": f"{area}, {person}"}[by]
    return Piece(
        block.id, f"{block.start:%H:%M}–{block.end:%H:%M}", head, rest, block.chance >= LOOK_FIRST, block.pinned, block.under_way
    )  # fmt: skip


def _detail(view: View, block: PlanBlock | None) -> dict[str, object]:
    if block is None:
        return {}
    farm = view.situation.farm
    spec = farm.spec(block.field, block.pass_id)
    return {
        "field": farm.field_label(block.field), "job": spec.label if spec is not None else block.pass_id,
        "rig": _rig(view, block), "person": farm.operator_label(block.operator),
        "support": "" if block.support is None else farm.operator_label(block.support),
        "area": show(block.area_ha, "area_ha", farm.units, 1), "people": [(p.id, p.label) for p in farm.operators],
        "pin": f"{block.field}:{block.pass_id}", "pinned": any(pin.pin == f"{block.field}:{block.pass_id}" for pin in view.situation.pins),
    }  # fmt: skip


@router.post("/days/price")
def price(
    request: Request, site: Writer, block: Annotated[str, Form()], start: Annotated[str, Form()], operator: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Find out what it costs to let a block begin at another time, or with somebody else."""
    view = site.office.view()
    plan = view.draft or view.plan
    found = None if plan is None else next((one for one in plan.blocks if one.id == block), None)
    if found is None:
        raise Refused(404, "this block is not in the plan any more; load the page again.")
    job = site.office.start_price(_pin(site, view, found, start, operator))
    return _job_page(request, site, job)


def _pin(site: Site, view: View, block: PlanBlock, start: str, operator: str) -> Report:
    try:
        moment = datetime.fromisoformat(start)
    except ValueError as error:
        raise Refused(422, f"{start!r} is no time; allowed: a time such as 2027-05-12T07:00.") from error
    moment = moment if moment.tzinfo is not None else moment.replace(tzinfo=site.office.workspace.zone)
    if moment < view.made_at:
        raise Refused(422, "that time is over; a block can be moved to a time that lies ahead.")
    body = {
        "pin": f"{block.field}:{block.pass_id}",
        "field": block.field,
        "pass_id": block.pass_id,
        "start": moment.isoformat(),
    }
    if block.rig is not None:
        body["rig"] = block.rig
    if operator:
        body["operator"] = operator
    return Report(EventKind.BLOCK_PINNED, body, site.office.clock(), "manager", "page")


@router.post("/days/keep")
def keep(request: Request, site: Writer, job: Annotated[str, Form()]) -> Response:
    """Keep a priced pin: it becomes an event, and a new plan is made with it."""
    found = site.office.jobs.get(job)
    if found is None or found.kind != "price" or found.result is None:
        raise Refused(404, "this price is not known any more; ask for it again.")
    site.office.take(found.result.report)
    return _job_page(request, site, site.office.start_plan())


@router.post("/days/unpin")
def unpin(request: Request, site: Writer, pin: Annotated[str, Form()]) -> Response:
    """Take a pin out."""
    site.office.take(Report(EventKind.BLOCK_UNPINNED, {"pin": pin}, site.office.clock(), "manager", "page"))
    return _job_page(request, site, site.office.start_plan())


@router.post("/plan")
def plan_again(request: Request, site: Writer) -> Response:
    """Make a new plan in the background."""
    return _job_page(request, site, site.office.start_plan())


@router.get("/jobs/{job_id}")
def job(request: Request, site: Manager, job_id: str) -> Response:
    """How far a job is, or what came of it."""
    found = site.office.jobs.get(job_id)
    if found is None:
        raise Refused(404, "this work is not known any more.")
    return _job_page(request, site, found)


def _job_page(request: Request, site: Site, job: Job) -> Response:
    if not request.headers.get("hx-request") and request.method == "POST":
        return go(f"/jobs/{job.id}")
    part = bool(request.headers.get("hx-request"))
    last = job.lines[-1] if job.lines else None
    values: dict[str, Any] = {"job": job, "last": last, "part": part}
    if job.done and job.kind == "ways" and job.result:
        values |= _ways(job, site)
    return site.page(request, "part_job.html" if part else "job.html", **values)


def _ways(job: Job, site: Site) -> dict[str, object]:
    outcomes, units = job.result, site.office.workspace.farm.units
    present = present_of(outcomes)
    shown = main_passes(outcomes, 3)
    labels = {row.pass_id: row.label for one in outcomes if not one.refused for row in one.passes}
    ends = {
        one.name: {row.pass_id: finish(row, units) for row in one.passes if row.pass_id in shown}
        for one in outcomes
    }
    return {
        "outcomes": ranked(outcomes),
        "present": present,
        "against": against,
        "sure": max(SAME, sure_of(outcomes)),
        "shown": shown,
        "labels": labels,
        "ends": ends,
    }


@router.get("/what-if")
def what_if(request: Request, site: Manager) -> Response:
    """Ask what a machine, a person, hours or days more or less would do."""
    from scheduler.whatif.wish import USAGE

    usage = [row[0] for row in USAGE.values()]
    return site.page(request, "what_if.html", usage=usage, wanted=_example(site))


def _example(site: Site) -> str:
    """Return a demand as it could be written for this farm: its next planned pass."""
    plan = site.office.view().plan
    block = plan.blocks[0] if plan is not None and plan.blocks else None
    return f"{block.pass_id} in {block.field} by fri" if block else "plant by fri"


@router.post("/what-if")
def ask(request: Request, site: Writer, ways: Annotated[str, Form(max_length=5000)]) -> Response:
    """Work ways, a line each; changes of one way are joined with " + "."""
    lines = [line.strip() for line in ways.splitlines() if line.strip()]
    if not 1 <= len(lines) <= WAYS_MOST:
        raise FitgroundError(f"{len(lines)} ways; allowed: 1 to {WAYS_MOST} lines, a way each.")
    wanted = [Way(name="As it stands", changes=())]
    wanted += [
        Way(name=line[:80], changes=tuple(part.strip() for part in line.split(" + "))) for line in lines
    ]
    return _job_page(request, site, site.office.start_ways(wanted, WAY_SECONDS))


@router.post("/can")
def ask_whether(request: Request, site: Writer, demands: Annotated[str, Form(max_length=2000)]) -> Response:
    """Tell whether work can be done by a time; a demand each line."""
    lines = [line.strip() for line in demands.splitlines() if line.strip()]
    if not 1 <= len(lines) <= WAYS_MOST:
        raise FitgroundError(f"{len(lines)} lines; allowed: 1 to {WAYS_MOST}, a demand each.")
    return _job_page(request, site, site.office.start_can(lines, CAN_SECONDS))
