"""`fitground plan` and `day`: the plan, and the crew's lists."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import (
    Thinking,
    day_option,
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_date,
    read_now,
    sentences,
    warn,
)
from scheduler.crew.page import morning_page
from scheduler.crew.paper import day_list_page
from scheduler.crew.plan_text import plan_text
from scheduler.crew.short_text import short_text
from scheduler.crew.show import day_list_csv, day_list_text
from scheduler.wiring.lists import lists_of, not_shown
from scheduler.wiring.mornings import issue, plan_morning


@click.command()
@farm_argument
@click.option("--seconds", default=None, type=click.FloatRange(0.1, 3600), help="Thinking time.")
@click.option("--page", default=None, type=click.Path(path_type=Path), help="Write the morning page (HTML).")
@click.option("--issue/--draft", "keep", default=True, help="Keep the plan as the one people work by.")
@json_option
@now_option
@sentences
def plan(
    farm: Path, seconds: float | None, page: Path | None, keep: bool, as_json: bool, now: str | None
) -> None:
    """Make the plan: who takes which rig where, when, for the best of the season."""
    workspace = open_workspace(farm)
    thinking = Thinking()
    morning = plan_morning(workspace, read_now(now, workspace), seconds=seconds, progress=thinking)
    thinking.done()
    if keep:
        issue(workspace, morning)
    if page is not None:
        page.parent.mkdir(parents=True, exist_ok=True)
        page.write_text(
            morning_page(morning.plan, morning.situation, morning.outlook, morning.changes, morning.news),
            encoding="utf-8",
        )
    if as_json:
        document = morning.plan.model_dump(mode="json")
        changes_ = None if morning.changes is None else morning.changes.model_dump(mode="json")
        print_json({"plan": document, "changes": changes_, "news": list(morning.news), "issued": keep})
        return
    click.echo(plan_text(morning.plan, morning.situation.farm, morning.changes, morning.news))
    if page is not None:
        click.echo(f"Page: {page}")


@click.command()
@farm_argument
@day_option
@click.option("--operator", default=None, help="Only this person.")
@click.option(
    "--format", "form", default="text", show_default=True, type=click.Choice(["text", "csv", "html", "sms"])
)
@click.option("--out", default=None, type=click.Path(path_type=Path), help="Write to this file.")
@json_option
@now_option
@sentences
def day(
    farm: Path,
    day_text: str | None,
    operator: str | None,
    form: str,
    out: Path | None,
    as_json: bool,
    now: str | None,
) -> None:
    """Each person's day list from the issued plan."""
    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    lists = lists_of(
        workspace, read_date("--date", day_text, moment.astimezone(workspace.zone).date()), moment
    )
    warn(not_shown(workspace, moment))
    if operator is not None:
        known = ", ".join(one.operator for one in lists)
        said = operator.strip().casefold()
        lists = tuple(one for one in lists if said in (one.operator.casefold(), one.name.casefold()))
        if not lists:
            raise click.ClickException(f"--operator {operator!r} is not known; allowed: {known}")
    if as_json:
        print_json([one.model_dump(mode="json") for one in lists])
        return
    text = {
        "text": lambda: "\n\n".join(day_list_text(one) for one in lists),
        "csv": lambda: day_list_csv(lists),
        "html": lambda: day_list_page(lists),
        "sms": lambda: "\n".join(f"{one.name}: {short_text(one)}" for one in lists),
    }[form]()
    if out is None:
        click.echo(text)
    else:
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_text(text, encoding="utf-8")
        click.echo(f"wrote {out}")
