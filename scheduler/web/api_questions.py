"""Long work for programs: a new plan, ways side by side, whether work can be done by a time; begun here, asked after by its id."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict
from pydantic import Field as Key

from scheduler.web.api import REFUSALS, Manager, Writer
from scheduler.web.frame import Refused
from scheduler.web.pages_plan import CAN_SECONDS, WAY_SECONDS, WAYS_MOST
from scheduler.whatif.study import Way
from scheduler.wiring.office import Job

router = APIRouter(prefix="/api/v1", responses=REFUSALS, tags=["questions"])
Line = Annotated[str, Key(min_length=1, max_length=500)]
Lines = Annotated[list[Line], Key(min_length=1, max_length=WAYS_MOST)]


class Ways(BaseModel):
    """Ways to go on, each a list of changes in the words of ``fitground whatif --help``."""

    model_config = ConfigDict(extra="forbid")

    ways: Annotated[list[Lines], Key(min_length=1, max_length=WAYS_MOST)]


class Demands(BaseModel):
    """What must be done by when, in the words of ``fitground can --help``."""

    model_config = ConfigDict(extra="forbid")

    demands: Lines


class Work(BaseModel):
    """Work in the background: how far it is, and what came of it.

    ``result`` is what the command with ``--json`` prints: a plan, the ways, or the answer.
    """

    id: str
    kind: str
    done: bool
    note: str
    error: str
    value: float | None
    bound: float | None
    left_s: float | None
    result: Any


@router.post("/plan", status_code=202)
def make_plan(site: Writer) -> Work:
    """Begin a new plan; it waits as a draft for a person to issue it."""
    return _work(site.office.start_plan())


@router.post("/ways", status_code=202)
def ask_ways(site: Writer, asked: Ways) -> Work:
    """Begin to work ways side by side, beside the one as it stands. One piece of long work at a time (422 meanwhile)."""
    wanted = [Way(name="As it stands", changes=())]
    wanted += [Way(name=" + ".join(way)[:80], changes=tuple(way)) for way in asked.ways]
    return _work(site.office.start_ways(wanted, WAY_SECONDS))


@router.post("/can", status_code=202)
def ask_whether(site: Writer, asked: Demands) -> Work:
    """Begin to find out whether work can be done by a time."""
    return _work(site.office.start_can(asked.demands, CAN_SECONDS))


@router.get("/jobs/{job}")
def job(site: Manager, job: Annotated[str, Path(max_length=40)]) -> Work:
    """How far a piece of long work is, and what came of it."""
    found = site.office.jobs.get(job)
    if found is None:
        raise Refused(404, "this work is not known any more.")
    return _work(found)


def _work(job: Job) -> Work:
    last = job.lines[-1] if job.lines else None
    return Work(
        id=job.id, kind=job.kind, done=job.done, note=job.note, error=job.error, result=job.facts if job.done else None,
        value=None if last is None else _finite(last.value), bound=None if last is None else _finite(last.bound),
        left_s=None if last is None or job.done else last.left_s,
    )  # fmt: skip


def _finite(value: float) -> float | None:
    """Return a number that JSON has: before the first plan there is none."""
    return value if abs(value) < float("inf") else None
