"""`fitground plot`: the week, soil water, windows and the season as SVG, PNG or PDF."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import farm_argument, now_option, open_workspace, read_now, sentences


@click.command()
@farm_argument
@click.argument("what", type=click.Choice(["week", "machines", "water", "windows", "progress"]))
@click.option(
    "--field", default="", help="Which field (for water; all of them, one file each, where not said)."
)
@click.option(
    "--out",
    default=None,
    type=click.Path(path_type=Path, dir_okay=False),
    help="File; its ending (.svg, .png, .pdf) says the form.  [default: WHAT.svg]",
)
@now_option
@sentences
def plot(farm: Path, what: str, field: str, out: Path | None, now: str | None) -> None:
    """Draw WHAT: week (who is where), machines, water (rain and wetness of a field), windows, progress (season by pass)."""
    from scheduler.planning.still_there import still_there
    from scheduler.windows.build import build_outlook
    from scheduler.wiring.mornings import horizon_at, known_weather
    from scheduler.wiring.news import situation_now
    from scheduler.wiring.pictures import picture
    from scheduler.wiring.plans_known import latest_plan

    workspace = open_workspace(farm)
    plan, out = latest_plan(workspace), out or Path(f"{what}.svg")
    of_the_plan = now is None and plan is not None and what in ("week", "machines")
    moment = plan.made_at if of_the_plan and plan is not None else read_now(now, workspace)
    state, situation = situation_now(workspace, moment)
    plan = None if plan is None else still_there(plan, situation.farm, moment)
    observed, forecast, normals = known_weather(workspace, moment)
    outlook = build_outlook(situation, horizon_at(situation.farm, moment), observed, forecast, normals)
    every = [one.id for one in situation.farm.fields] if what == "water" and not field else [field]
    out.parent.mkdir(parents=True, exist_ok=True)
    for one in every:
        path = out if len(every) == 1 else out.with_name(f"{out.stem}-{one}{out.suffix}")
        path.write_bytes(
            picture(
                what, out.suffix.removeprefix(".").lower(), situation, outlook, state, observed, plan, one
            )
        )
        click.echo(str(path))
