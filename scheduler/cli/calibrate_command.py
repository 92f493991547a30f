"""`fitground calibrate`: the farm's own limits and drying, from its past records or its district's weekly reports."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.frame import (
    dates_option,
    farm_argument,
    json_option,
    now_option,
    open_workspace,
    print_json,
    read_now,
    sentences,
)
from scheduler.farm.farm import Farm
from scheduler.wiring.calibration import Taught, from_checks, from_weeks, save_taught
from scheduler.workability.calibrate import Calibration, Score
from shared.vocabulary import DayOrder

HELP = """Fit the farm's own ground to what is known of it, show before and after, and keep it in the log.

\b
  fitground calibrate FARM                       from the spade tests that were reported
  fitground calibrate FARM --records past.csv    date,field,verdict (fit, marginal, unfit, worked, too wet) of past years
  fitground calibrate FARM --weeks weekly.csv    week_ending,days_suitable: the public weekly reports of the district

The past years need weather: --weather daily.csv (date,rain_mm,tmax_c,tmin_c,...), else the farm's own history. --dry-run only
shows. Taken back with: fitground report FARM correct EVENT nothing
"""


@click.command(help=HELP)
@farm_argument
@click.option(
    "--records", default=None, type=click.Path(path_type=Path), help="What was found in fields (CSV, xlsx)."
)
@click.option(
    "--weeks", default=None, type=click.Path(path_type=Path), help="Weekly days suitable (CSV, xlsx, JSON)."
)
@click.option(
    "--weather", default=None, type=click.Path(path_type=Path), help="Daily weather of those years (CSV)."
)
@click.option("--dry-run", is_flag=True, help="Show what would be learned; keep nothing.")
@click.option("--anyway", is_flag=True, help="Keep it though the weeks held back did not improve.")
@dates_option
@json_option
@now_option
@sentences
def calibrate(
    farm: Path, records: Path | None, weeks: Path | None, weather: Path | None, dry_run: bool, anyway: bool,
    dates: DayOrder | None, as_json: bool, now: str | None,
) -> None:  # fmt: skip
    """Calibrate (the help text is `HELP`)."""
    workspace = open_workspace(farm)
    moment = read_now(now, workspace)
    if weeks is not None:
        taught = from_weeks(workspace, weeks, weather, dates)
    else:
        taught = from_checks(workspace, moment, records, weather, dates)
    good = anyway or taught.weeks is None or taught.weeks.worth_taking
    kept = list(save_taught(workspace, taught, moment)) if good and not dry_run else []
    if as_json:
        bodies = [body.model_dump(mode="json") for body in taught.bodies.values()]
        print_json({"kept": kept, "learned": bodies, "worth_taking": good})
        return
    lines = week_lines(taught.weeks) if taught.weeks is not None else field_lines(taught, workspace.farm)
    for line in lines:
        click.echo(line)
    if kept:
        click.echo(f"Kept as {', '.join(kept)}; the next plan uses it.")
    elif dry_run:
        click.echo("Nothing was kept (--dry-run).")
    else:
        click.echo("Nothing was kept: the weeks held back did not improve (--anyway keeps it all the same).")


def week_lines(found: Calibration) -> list[str]:
    """Return before and after of a fit to weekly reports."""
    old, new = found.before.rule, found.after.rule
    out = ["", f"{'':<46}{'before':>10}{'after':>10}"]
    for text, name in (
        ("half of the ground is fit at (x field capacity)", "limit"), ("spread over fields", "spread"),
        ("rain of the day that leaves 37 % workable, mm", "rain_scale_mm"), ("weight of the season", "season_weight"),
    ):  # fmt: skip
        out.append(f"{text:<46}{getattr(old, name):>10.3f}{getattr(new, name):>10.3f}")
    for text, before, after in (
        ("weeks fitted", found.fitted_before, found.fitted_after),
        ("every fourth week, held back", found.held_before, found.held_after),
    ):
        out += ["", f"{text} ({after.weeks})", *_score_lines(before, after)]
    shift = new.limit - old.limit
    return [*out, "", f"The wetness limits of every field move by {shift:+.3f} of field capacity.", ""]


def _score_lines(before: Score, after: Score) -> list[str]:
    return [
        f"  {'mean error, days a week':<44}{before.mae:>10.2f}{after.mae:>10.2f}",
        f"  {'correlation':<44}{before.r:>10.2f}{after.r:>10.2f}",
        f"  {'bias, days a week':<44}{before.bias:>+10.2f}{after.bias:>+10.2f}",
    ]


def field_lines(taught: Taught, farm: Farm) -> list[str]:
    """Return before and after of every field that was learned, with how sure it is."""
    out = [
        f"{'field':<20}{'checks':>8}   {'limits move by (x field capacity)':<36}{'drains so many times as slowly'}"
    ]
    for name, learned in (taught.fields or {}).items():
        limit, was = learned.limit_shift_after, learned.limit_shift_before
        slow, fast = learned.drying_factor_after, learned.drying_factor_before
        count = taught.bodies[name].learned_from.split()[0]
        out.append(
            f"{farm.field_by_id[name].label:<20.20}{count:>8}   "
            f"{f'{was.mean:+.3f} +- {was.sd:.3f} -> {limit.mean:+.3f} +- {limit.sd:.3f}':<36}"
            f"{fast.mean:.2f} +- {fast.sd:.2f} -> {slow.mean:.2f} +- {slow.sd:.2f}"
        )
        if learned.doubted:
            out.append(
                f"{'':<20}{len(learned.doubted)} of them doubted: they fit neither the others nor the weather"
            )
    return [*out, ""]
