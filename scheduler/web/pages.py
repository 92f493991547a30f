"""The manager's pages that show: morning, ground, windows, stores, news, season."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Query, Request, Response

from scheduler.crew.day_list import DayList, day_lists
from scheduler.crew.language import Words
from scheduler.crew.morning import headline, odds_sentence, value_sentence
from scheduler.crew.pictures import BACK_DAYS
from scheduler.crew.second import second_lines
from scheduler.events.describe import history
from scheduler.events.situation import Situation
from scheduler.events.verbs import VERBS
from scheduler.planning.diff import Changes
from scheduler.planning.diff_groups import grouped
from scheduler.planning.pace_notes import pace_notes
from scheduler.planning.worry_groups import gathered
from scheduler.web import views_ground, views_season, views_stores, views_windows
from scheduler.web.frame import Refused, Site, manager
from scheduler.wiring.issued import changes_between, last_changes
from scheduler.wiring.paper import week_pdf
from scheduler.wiring.pictures import picture
from shared.errors import FitgroundError

router = APIRouter(include_in_schema=False)
Manager = Annotated[Site, Depends(manager)]
NEWS_A_PAGE, WINDOWS_A_PAGE = 60, 40


@router.get("/")
def morning(request: Request, site: Manager) -> Response:
    """What happens today, what changed, what must be ready, what worries."""
    view, words = site.office.view(), Words("en")
    plan, farm = view.plan, view.situation.farm
    shown = view.draft or plan
    lists: tuple[DayList, ...] = ()
    changes: Changes | None = None
    head = ""
    if shown is not None:
        day = view.made_at.astimezone(site.office.workspace.zone).date()
        lists = day_lists(shown, _in_english(view.situation), view.outlook, day)
        if view.draft is not None and plan is not None:
            changes = changes_between(site.office.workspace, plan, view.draft)
        else:
            changes = last_changes(site.office.workspace)
        head = headline(shown, farm, len(changes.rows) if changes else 0, day, words)
    return site.page(
        request, "morning.html", view=view, shown=shown, lists=lists, changes=grouped(changes), head=head, seconds=[] if shown is None else second_lines(shown, farm, words), stands=site.office.status(),
        worries=() if shown is None else gathered(shown.worries, farm), value="" if shown is None else value_sentence(shown), odds="" if shown is None else odds_sentence(shown, farm), words=words,
    )  # fmt: skip


def _in_english(situation: Situation) -> Situation:
    """Return the situation with everybody's lists in the manager's language."""
    people = tuple(one.model_copy(update={"language": "en"}) for one in situation.farm.operators)
    return replace(situation, farm=situation.farm.model_copy(update={"operators": people}))


@router.get("/ground")
def ground(request: Request, site: Manager) -> Response:
    """Which fields are fit now and on the days ahead: map and list."""
    view = site.office.view()
    rows = views_ground.rows(view)
    return site.page(
        request,
        "ground.html",
        rows=rows,
        plot=views_ground.farm_map(site.office.workspace, rows),
        notes=view.outlook.notes,
    )


@router.get("/ground/{field_id}")
def field(request: Request, site: Manager, field_id: str) -> Response:
    """One field: hours by kind of rig, water and rain, and a spade test."""
    view = site.office.view()
    if field_id not in view.situation.farm.field_by_id:
        raise Refused(404, f"there is no field {field_id!r}.")
    return site.page(request, "field.html", one=views_ground.field_page(view, field_id))


@router.get("/windows")
def windows(
    request: Request, site: Manager, show: Literal["now", "closed", "later"] = "now",
    skip: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
) -> Response:  # fmt: skip
    """What is running out: per field and pass; what is over and what opens later only when asked for."""
    rows = views_windows.rows(site.office.view())
    groups = {"now": ("closing", "open", "soon"), "closed": ("closed",), "later": ("later",)}
    counts = {name: sum(row.state in states for row in rows) for name, states in groups.items()}
    shown = [row for row in rows if row.state in groups[show]]
    return site.page(
        request, "windows.html", rows=shown[skip : skip + WINDOWS_A_PAGE], show=show, counts=counts, skip=skip,
        step=WINDOWS_A_PAGE, more=len(shown) > skip + WINDOWS_A_PAGE,
    )  # fmt: skip


@router.get("/stores")
def stores(request: Request, site: Manager) -> Response:
    """Product needed by day against stock and deliveries."""
    return site.page(request, "stores.html", rows=views_stores.rows(site.office.view()))


@router.get("/news")
def news(request: Request, site: Manager, skip: Annotated[int, Query(ge=0, le=1_000_000)] = 0, anew: Annotated[str, Query(max_length=200)] = "") -> Response:  # fmt: skip
    """The log, newest first, and a line for any news."""
    view = site.office.view()
    rows = list(reversed(history(view.state, view.situation.farm)))
    return site.page(
        request, "news.html", rows=rows[skip : skip + NEWS_A_PAGE], skip=skip, more=len(rows) > skip + NEWS_A_PAGE, step=NEWS_A_PAGE,
        usage=[usage for usage, *_ in VERBS.values()], refused=view.state.refused, anew=anew if anew in view.state.told else "",
    )  # fmt: skip


@router.get("/season")
def season(request: Request, site: Manager) -> Response:
    """Progress against plan and odds; fit days used and missed; how long machines really take."""
    view = site.office.view()
    return site.page(
        request,
        "season.html",
        passes=views_season.passes(view, site.office.looking_back(BACK_DAYS)),
        paces=pace_notes(view.situation),
    )


@router.get("/pictures/{name}.{form}", include_in_schema=False)
def drawn(
    site: Manager, name: Literal["week", "machines", "water", "windows", "progress"], form: Literal["svg", "png", "pdf"],
    field: Annotated[str, Query(max_length=100)] = "",
) -> Response:  # fmt: skip
    """A picture to take along; the same numbers as on the pages."""
    view = site.office.view()
    try:
        content = picture(
            name, form, view.situation, view.outlook, view.state, view.observed, view.plan, field
        )
    except FitgroundError as error:
        raise Refused(404, str(error)) from error
    media = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}[form]
    title = f"{name}{'-' + field if field else ''}.{form}"
    return Response(
        content, media_type=media, headers={"Content-Disposition": f'attachment; filename="{title}"'}
    )


@router.get("/week.pdf", include_in_schema=False)
def week(site: Manager, size: Literal["letter", "a4"] = "letter") -> Response:
    """The week board for the wall."""
    try:
        content = week_pdf(site.office.workspace, None, size, "en")
    except FitgroundError as error:
        raise Refused(404, str(error)) from error
    return Response(
        content,
        media_type="application/pdf",
        headers={"Content-Disposition": 'attachment; filename="week.pdf"'},
    )


@router.get("/crew-links")
def crew_links(request: Request, site: Manager) -> Response:
    """A link for each person."""
    base = str(request.base_url).rstrip("/")
    people = [
        (one, f"{base}/crew/{site.door.link(one.id)}") for one in site.office.view().situation.farm.operators
    ]
    return site.page(request, "crew_links.html", people=people)
